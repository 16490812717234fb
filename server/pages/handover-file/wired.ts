/** Past 200 lines: each section beside the words it alone uses. How it is wired: drawing, protection, switching, terminals. */
import { figure } from '../../web/format.ts'
import { figuresOf } from '../shared/finding-view.ts'
import { colourSources } from '../shared/fuse-boxes.ts'
import { type Block, type Section, tableOr, words } from '../shared/paper.ts'
import { doubt } from '../shared/rating-words.ts'
import { wireWords } from '../shared/wiring-words.ts'
import { byName, type Facts, nameOf, placeOf, ratingOf, together, zoneOf } from './facts.ts'

/** Every wire in a list, and the drawing's sheets. */
export function drawing(facts: Facts): Section {
  const { circuit } = facts
  const wires = byName(facts, 'conductor')
  const grounds = byName(facts, 'ground-point', 'chassis')
  const joints = byName(facts, 'block', 'splice')
  return {
    id: 'drawing',
    title: 'Wiring',
    blocks: [
      ...tableOr(
        {
          caption: `Every wire (${wires.length})`,
          heads: [
            { label: 'Wire', share: 2.4 },
            { label: 'No., colour', share: 1.5 },
            { label: 'Size', share: 1 },
            { label: 'Insulation', share: 1.3 },
            { label: 'Length', share: 0.8 },
            { label: 'From', share: 2.4 },
            { label: 'To', share: 2.4 },
          ],
          rows: wires.map((key) => {
            const { number, colour, length, ...words } = wireWords(circuit.component(key), circuit.part(key))
            return [
              nameOf(facts, key),
              [number, colour].filter((one) => one !== '').join(', ') || 'not recorded',
              words.crossSection === '' ? 'not known' : `${words.crossSection}${words.doubt}${materialOf(facts, key)}`,
              insulationOf(facts, key),
              length || 'not known',
              endsOf(facts, key, 'a'),
              endsOf(facts, key, 'b'),
            ]
          }),
        },
        'No wire is recorded.',
      ),
      ...tableOr(
        {
          caption: 'Ground points and frame',
          heads: [
            { label: 'Place', share: 2 },
            { label: 'Where', share: 2 },
            { label: 'Part', share: 2 },
            { label: 'What meets there', share: 5 },
          ],
          rows: grounds.map((key) => [nameOf(facts, key), zoneOf(facts, key), circuit.part(key).name, meetsAt(facts, key)]),
        },
        'No ground point is recorded.',
      ),
      ...tableOr(
        {
          caption: 'Blocks and splices',
          heads: [
            { label: 'Place', share: 2 },
            { label: 'Where', share: 2 },
            { label: 'Part', share: 2 },
            { label: 'What meets there', share: 5 },
          ],
          rows: joints.map((key) => [nameOf(facts, key), zoneOf(facts, key), circuit.part(key).name, meetsAt(facts, key)]),
        },
        'No block or splice is recorded.',
      ),
      words('Colours are in the letters of IEC 60757, base colour first, then stripe. Terminal numbers at relays are those of DIN 72552.'),
      ...facts.drawings.map((sheet): Block => ({ kind: 'drawing', ...sheet })),
    ],
  }
}

export function protection(facts: Facts): Section {
  const rows = facts.boxes.flatMap((box) => box.rows.map((row) => ({ box, row })))
  const sources = colourSources(rows.map((one) => one.row))
  return {
    id: 'protection',
    title: 'Protection',
    blocks: [
      ...facts.boxes.flatMap((box) =>
        tableOr(
          {
            caption: [box.name, box.ways].filter((one) => one !== '').join(', '),
            heads: [
              { label: 'Fuse', share: 1.4 },
              { label: 'Rated', share: 1.2 },
              { label: 'Form, colour', share: 2.3 },
              { label: 'Feeds', share: 3 },
              { label: 'Least wire', share: 1.2 },
              { label: 'Ends a short', share: 1.6 },
              { label: 'Breaks', share: 1.1 },
              { label: 'Spare', share: 1 },
            ],
            rows: box.rows.map((row) => [
              row.position === row.name ? row.name : `${row.position} ${row.name}`,
              row.rating,
              [row.form, row.colour].filter((one) => one !== '').join(', '),
              row.feeds.join('; '),
              row.wire,
              row.clears,
              row.breaking,
              row.spare,
            ]),
          },
          '',
        ),
      ),
      ...(rows.length === 0 ? [words('No fuse or breaker is recorded.')] : [words(notes(sources))]),
      fuseFindings(facts),
    ],
  }
}

export function switching(facts: Facts): Section {
  const { circuit } = facts
  const relays = byName(facts, 'relay')
  const switches = byName(facts, 'switch', 'module')
  return {
    id: 'switching',
    title: 'Switching',
    blocks: [
      ...tableOr(
        {
          caption: 'Relays',
          heads: [
            { label: 'Relay', share: 1.8 },
            { label: 'Part, place', share: 1.8 },
            { label: 'Pins', share: 3.4 },
            { label: 'Contact carries', share: 1.5 },
            { label: 'Coil', share: 2.6 },
            { label: 'If it sticks closed', share: 2 },
          ],
          rows: relays.map((key) => [
            nameOf(facts, key),
            `${circuit.part(key).name}, ${zoneOf(facts, key)}`,
            pinsOf(facts, key),
            contactOf(facts, key),
            coilOf(facts, key),
            staysOn(facts, key),
          ]),
        },
        'No relay is recorded.',
      ),
      ...tableOr(
        {
          caption: 'Switches and modules',
          heads: [
            { label: 'Switch', share: 2 },
            { label: 'Part, place', share: 2 },
            { label: 'Terminals', share: 4 },
            { label: 'Contact carries', share: 1.5 },
          ],
          rows: switches.map((key) => [
            nameOf(facts, key),
            `${circuit.part(key).name}, ${zoneOf(facts, key)}`,
            pinsOf(facts, key),
            contactOf(facts, key),
          ]),
        },
        'No switch is recorded.',
      ),
    ],
  }
}

export function connectors(facts: Facts): Section {
  const { circuit, document } = facts
  // By the component, and not by its name: two wires may be called alike.
  const made = new Map<string, { readonly terminal: string; readonly tool: string; readonly ends: Map<string, string[]> }>()
  for (const { key, fittings } of document.components)
    for (const [end, { terminal = 'not recorded', tool = 'not recorded' }] of Object.entries(fittings ?? {})) {
      const known = made.get(`${terminal}\n${tool}`) ?? { terminal, tool, ends: new Map<string, string[]>() }
      known.ends.set(key, [...(known.ends.get(key) ?? []), end])
      made.set(`${terminal}\n${tool}`, known)
    }
  return {
    id: 'connectors',
    title: 'Connectors and terminals',
    blocks: [
      ...tableOr(
        {
          caption: 'Connectors',
          heads: [
            { label: 'Connector', share: 2 },
            { label: 'Part', share: 2 },
            { label: 'Poles', share: 1 },
            { label: 'Each carries', share: 1.2 },
            { label: 'Seal', share: 1 },
            { label: 'Pins', share: 4 },
          ],
          rows: byName(facts, 'connector').map((key) => [
            nameOf(facts, key),
            circuit.part(key).name,
            ratingOf(facts, key, 'poles'),
            ratingOf(facts, key, 'pole_A'),
            ratingOf(facts, key, 'ingress'),
            pinsOf(facts, key),
          ]),
        },
        'No connector is recorded.',
      ),
      ...tableOr(
        {
          caption: 'Terminals and the tools that made them',
          heads: [
            { label: 'Terminal', share: 2 },
            { label: 'Tool', share: 1.6 },
            { label: 'On the wires, at their ends', share: 8 },
          ],
          rows: [...made.values()].map(({ terminal, tool, ends }) => [
            terminal,
            tool,
            [...ends].map(([key, those]) => `${nameOf(facts, key)} ${those.join(', ')}`).join('; '),
          ]),
        },
        'Which terminals were crimped on, and with which tool, is not recorded.',
      ),
    ],
  }
}

function notes(sources: string): string {
  return [
    '“Least wire” is the smallest conductor up to the next fuse. “Ends a short” is the longest time in which a bolted short at the far end of any wire behind it, the battery alone feeding and the wires hot, is sure to be ended. “Breaks” is the breaking capacity. “Spare” counts the same part on the shelf.',
    sources === '' ? '' : `Colours by ${sources}; the number on the fuse decides.`,
  ]
    .filter((one) => one !== '')
    .join(' ')
}

function fuseFindings(facts: Facts): Block {
  const { circuit, report } = facts
  const over = report.findings.filter(
    (finding) =>
      (finding.verdict === 'over' || finding.verdict === 'tight') && ['fuse', 'breaker'].includes(circuit.kindOf(finding.component)),
  )
  return over.length === 0
    ? words('No fuse is over or tight, as far as is known.')
    : { kind: 'list', items: over.map((finding) => `${finding.verdict}: ${finding.says}`) }
}

/** ", aluminium": copper goes without saying. */
function materialOf({ circuit }: Facts, key: string): string {
  const material = circuit.rawRating(key, 'material')
  return typeof material === 'string' && material !== 'copper' ? `, ${material}${doubt(circuit.part(key).evidence?.material)}` : ''
}

function insulationOf(facts: Facts, key: string): string {
  const [kind, limit] = [ratingOf(facts, key, 'insulation'), ratingOf(facts, key, 'insulation_degC')]
  return kind === 'not known' ? limit : together(kind, ', ', limit)
}

/** What the end of a wire is joined to. */
function endsOf(facts: Facts, key: string, end: string): string {
  const others = facts.circuit.joinsOf(key).filter((join) => join.own === `${key}:${end}`)
  return others.map((join) => placeOf(facts, join.other)).join('; ') || 'joined to nothing'
}

function meetsAt(facts: Facts, key: string): string {
  const names = facts.circuit.joinsOf(key).map((join) => nameOf(facts, join.other.slice(0, join.other.indexOf(':'))))
  return [...new Set(names)].join('; ') || 'nothing'
}

function pinsOf(facts: Facts, key: string): string {
  const byPin = new Map<string, string[]>()
  for (const { own, other } of facts.circuit.joinsOf(key)) {
    const pin = own.slice(own.indexOf(':') + 1)
    byPin.set(pin, [...(byPin.get(pin) ?? []), nameOf(facts, other.slice(0, other.indexOf(':')))])
  }
  const byNumber = new Intl.Collator('en', { numeric: true })
  return (
    [...byPin]
      .sort(([a], [b]) => byNumber.compare(a, b))
      .map(([pin, names]) => `${pin}: ${names.join(', ')}`)
      .join('; ') || 'joined to nothing'
  )
}

function contactOf(facts: Facts, key: string): string {
  const finding = facts.report.findings.find((one) => one.rule === 'contact-load' && one.component === key)
  if (finding) return `${figuresOf(finding)}, ${finding.verdict}`.replace(/^, /, '')
  const rated = ['make_A', 'rated_A', 'channel_A'].map((rating) => ratingOf(facts, key, rating)).find((one) => one !== 'not known')
  return rated === undefined ? 'rating not known' : `rated ${rated}`
}

function coilOf(facts: Facts, key: string): string {
  const { circuit } = facts
  const ohm = circuit.rating(key, 'coil_ohm')
  const volts = circuit.nominal_V(key)
  const suppression = ratingOf(facts, key, 'suppression')
  return [
    ohm ? `${figure(ohm.value, 'ohm')}${doubt(ohm.grade)}, ${figure(volts / ohm.value, 'A')} at ${volts} V` : 'resistance not known',
    `pulls in at ${ratingOf(facts, key, 'pickUp20_V')}`,
    `suppression ${suppression === 'not known' ? 'not known' : suppression}`,
  ].join('; ')
}

function staysOn(facts: Facts, key: string): string {
  const { circuit } = facts
  const behind = circuit.loadsBehind(key).filter((load) => circuit.contactOf(load) === key)
  return behind.length > 0
    ? `${behind.map((load) => nameOf(facts, load)).join('; ')}: cannot be switched off`
    : 'nothing recorded behind it'
}
