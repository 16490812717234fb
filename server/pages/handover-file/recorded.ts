/** Past 200 lines: each section beside the words it alone uses. What was measured, done, left open and not checked. */
import { fieldsOf, partKind } from '../../engine/parts/index.ts'
import type { Finding } from '../../engine/report.ts'
import type { Grade } from '../../engine/vehicle.ts'
import type { Change, SavedEntry } from '../../records/contract.ts'
import { eachInTurn } from '../../records/turns.ts'
import { asRead, dateWords, kilometres } from '../../web/format.ts'
import { figuresOf, ruleTitle, verdictsOf, worstWords } from '../shared/finding-view.ts'
import { moneyWords } from '../shared/money-words.ts'
import { type Block, type Section, tableOr, words } from '../shared/paper.ts'
import { type Facts, nameOf } from './facts.ts'

const UNIT = { voltage: 'V', current: 'A', resistance: 'ohm' } as const
const ZONE_FIGURES = { ambient_degC: 'ambient', peak_degC: 'peak' } as const
type Measured = Extract<Change, { kind: 'measured' }>

export function tests(facts: Facts): Section {
  const byPeople = facts.ticked.has('names')
  const rows = facts.entries.flatMap((entry) =>
    entry.changes
      .filter((change): change is Measured => change.kind === 'measured')
      .map((change) => [
        dateWords(entry.effectiveOn),
        change.at.includes(':') ? change.at.replace(/^([^:]+):/, (_, key) => `${nameOf(facts, key)} `) : nameOf(facts, change.at),
        asRead(change.value, UNIT[change.quantity]),
        change.condition === undefined
          ? 'not recorded'
          : (facts.state.conditions.get(change.condition)?.name ?? 'a condition taken out since'),
        facts.mask.words(entry.title),
        ...(byPeople ? [entry.author] : []),
      ]),
  )
  return {
    id: 'tests',
    title: 'Tests and readings',
    blocks: [
      ...tableOr(
        {
          caption: '',
          heads: [
            { label: 'When', share: 1.6 },
            { label: 'Where', share: 2.4 },
            { label: 'Read', share: 1 },
            { label: 'With', share: 2 },
            { label: 'As', share: 3 },
            ...(byPeople ? [{ label: 'By', share: 1.4 }] : []),
          ],
          rows,
        },
        'No reading is recorded.',
      ),
      words(
        'Drop tests, standing drain, charging voltage hot and cold and what insulation looked like are recorded only where they stand above or among the changes.',
      ),
    ],
  }
}

/** Dated, oldest first: what was done, why in the owner's words, what the check found changed. */
export async function changes(facts: Facts): Promise<Section> {
  return {
    id: 'changes',
    title: 'Changes',
    blocks: [
      facts.entries.length === 0
        ? words('Nothing is recorded yet.')
        : {
            kind: 'entries',
            entries: await eachInTurn(facts.entries, (entry) => ({
              when: [dateWords(entry.effectiveOn), ...(entry.odometer_km === null ? [] : [kilometres(entry.odometer_km)])].join(', '),
              title: facts.mask.words(entry.title),
              lines: entryLines(facts, entry),
            })),
          },
    ],
  }
}

export function open(facts: Facts): Section {
  const { report, state } = facts
  const wrong = report.findings.filter((finding) => finding.verdict === 'over' || finding.verdict === 'tight')
  const due = [...state.due.values()]
  const blocks: Block[] = [
    words(`By the check on ${dateWords(facts.on)}: ${worstWords(verdictsOf(report))}.`),
    ...tableOr(
      {
        caption: 'Over or tight',
        heads: [
          { label: 'Verdict', share: 0.8 },
          { label: 'What', share: 1.8 },
          { label: 'Used', share: 1.4 },
          { label: 'In words', share: 4 },
          { label: 'What would clear it', share: 3 },
        ],
        rows: wrong.map((finding) => [
          finding.verdict,
          `${ruleTitle(finding.rule)}: ${nameOf(facts, finding.component)}`,
          figuresOf(finding) || 'no figure',
          finding.says,
          finding.remedy,
        ]),
      },
      'Nothing is over or tight, as far as is known.',
    ),
    ...tableOr(
      {
        caption: 'Wiring changed and not entered yet',
        heads: [
          { label: 'Since', share: 1 },
          { label: 'What', share: 4 },
          { label: 'Touches', share: 3 },
        ],
        rows: [...state.unfinished.values()].map((one) => [
          dateWords(one.since),
          facts.mask.words(one.text),
          one.components.map((key) => nameOf(facts, key)).join(', '),
        ]),
      },
      'No wiring is left to be entered.',
    ),
    ...tableOr(
      {
        caption: 'Due',
        heads: [
          { label: 'What', share: 4 },
          { label: 'By date', share: 1.5 },
          { label: 'By distance', share: 1.5 },
        ],
        rows: due.map((one) => [
          facts.mask.words(one.what),
          one.on === undefined ? '' : dateWords(one.on),
          one.odometer_km === undefined ? '' : kilometres(one.odometer_km),
        ]),
      },
      'Nothing is set as due.',
    ),
  ]
  return { id: 'open', title: 'Open', blocks }
}

/** Honest: what could not be judged and why, and every figure that nobody read off a thing. */
export function notChecked(facts: Facts): Section {
  const { report, document } = facts
  const byRule = new Map<string, { components: string[]; missing: Set<string> }>()
  for (const finding of report.findings) {
    if (finding.verdict !== 'unknown') continue
    const known = byRule.get(finding.rule) ?? { components: [], missing: new Set<string>() }
    known.components.push(nameOf(facts, finding.component))
    for (const one of finding.missing) known.missing.add(one)
    byRule.set(finding.rule, known)
  }
  const doubted = document.parts.flatMap((part) => {
    const fields = fieldsOf(part.kind).filter((field) => part.ratings[field.name] !== undefined)
    const of = (grades: readonly string[]) =>
      fields.filter((field) => grades.includes(part.evidence?.[field.name] ?? 'assumed')).map((field) => field.label.toLowerCase())
    const [assumed, typical] = [of(['assumed']), of(['typical'])]
    return assumed.length + typical.length > 0 ? [{ name: part.name, assumed, typical }] : []
  })
  const doubtedZones = (document.zones ?? []).flatMap((zone) => {
    const of = (grade: Grade) =>
      (['ambient_degC', 'peak_degC'] as const)
        .filter((field) => zone[field] !== undefined && (zone.evidence?.[field] ?? 'assumed') === grade)
        .map((field) => ZONE_FIGURES[field])
    const [assumed, typical] = [of('assumed'), of('typical')]
    return assumed.length + typical.length > 0 ? [{ name: `${zone.name}, a zone`, assumed, typical }] : []
  })
  const bare = document.parts.filter(
    (part) => Object.keys(part.ratings).length === 0 && partKind(part.kind)?.fields.some((field) => 'basic' in field && field.basic),
  )
  return {
    id: 'not-checked',
    title: 'Not checked',
    blocks: [
      words('The check judges only what is recorded. What it could not judge, for want of a figure, is not passed.'),
      ...tableOr(
        {
          caption: 'Not judged',
          heads: [
            { label: 'What is asked', share: 2 },
            { label: 'Of', share: 4 },
            { label: 'Not known', share: 4 },
          ],
          rows: [...byRule].map(([rule, one]) => [
            ruleTitle(rule),
            [...new Set(one.components)].join(', '),
            [...one.missing].join('; ') || 'not said',
          ]),
        },
        'All that the rules ask could be judged.',
      ),
      ...tableOr(
        {
          caption: 'Figures that were assumed or are typical of their kind',
          heads: [
            { label: 'Part, zone', share: 3 },
            { label: 'Assumed', share: 4 },
            { label: 'Typical', share: 4 },
          ],
          rows: [...doubted, ...doubtedZones].map(({ name, assumed, typical }) => [name, assumed.join(', '), typical.join(', ')]),
        },
        'Every recorded rating of a part and temperature of a zone was read off a sheet, a marking or a meter.',
      ),
      ...standIns(facts),
      ...gaps(facts),
      words(
        bare.length === 0
          ? 'Every part has at least one figure.'
          : `Parts without any figure: ${bare.map((part) => part.name).join('; ')}.`,
      ),
      words(
        'No record says how well a joint is made, what lies hidden under trim, or what has aged since: the eye, the hand and the meter come before this file.',
      ),
    ],
  }
}

/** Where a part states no figure and one that is typical of its kind stands in for it. */
function standIns({ circuit, document }: Facts): readonly Block[] {
  const found = new Map<string, string[]>()
  for (const { key, name } of document.components)
    for (const field of fieldsOf(circuit.kindOf(key))) {
      if (field.type !== 'number' || circuit.rawRating(key, field.name) !== null) continue
      const stand = circuit.rating(key, field.name)
      if (stand?.typical === undefined) continue
      const what = `${field.label}, ${kindTitle(circuit.kindOf(key)).toLowerCase()}`
      found.set(what, [...(found.get(what) ?? []), name])
    }
  return tableOr(
    {
      caption: 'Not stated by the part: a figure typical of its kind stands in',
      heads: [
        { label: 'Figure', share: 3 },
        { label: 'Of', share: 7 },
      ],
      rows: [...found].map(([what, names]) => [what, names.join('; ')]),
    },
    'No typical figure stands in for one that a part does not state.',
  )
}

/** What the record leaves out of the wiring itself, counted. */
function gaps({ circuit, document }: Facts): readonly Block[] {
  const wires = circuit.componentsOf('conductor').map((key) => circuit.component(key))
  const count = (what: string, lacking: number, so: string) =>
    lacking === 0 ? [] : [`${what}: not recorded for ${lacking} of ${wires.length} wires${so}.`]
  const measured = wires.filter((wire) => wire.length_m !== undefined).length
  const items = [
    ...count('How many lie together in a bundle', wires.filter((wire) => wire.bundle === undefined).length, '; each counts as lying alone'),
    ...count('Length', wires.filter((wire) => wire.length_m === undefined).length, ''),
    ...(measured === 0
      ? []
      : [`Length: recorded for ${measured} of ${wires.length} wires; whether it was measured or guessed is not recorded for any.`]),
    ...count('Colour', wires.filter((wire) => wire.colour === undefined).length, ''),
    ...count('Terminals and the tool that made them', wires.filter((wire) => wire.fittings === undefined).length, ''),
  ]
  const placeless = document.components.filter((component) => component.zone === undefined && circuit.kindOf(component.key) !== 'chassis')
  if (placeless.length > 0) items.push(`Zone: not recorded for ${placeless.map((component) => component.name).join('; ')}.`)
  return items.length > 0 ? [{ kind: 'list', items }] : []
}

/**
 * The usual cautions: disconnecting, batteries and fuel by workshop practice and by 29 CFR 1926.441 (charging and acid); airbags, lithium,
 * 48 V and welding by common practice.
 */
export function safety(facts: Facts): Section {
  const { circuit, state } = facts
  const isLithium = circuit
    .componentsOf('battery')
    .some((key) => /li(thium|fepo|-?ion)|lfp/i.test(String(circuit.rawRating(key, 'chemistry') ?? '')))
  const isHigh = state.vehicle.systemVoltage_V >= 48 || circuit.componentsOf('battery').length > 1
  return {
    id: 'safety',
    title: 'Safety',
    blocks: [
      words(
        'Where to shut off, what airbags are fitted, where to tow and jump from, and where the extinguisher is, are not recorded here unless a change above says so: ask before you begin.',
      ),
      {
        kind: 'list',
        items: [
          'Take the negative lead off the battery first and put it back last, with nothing running.',
          'Charge with air moving: no flame, spark or smoke near it, and no tools left on top. Face and hands covered where acid may spill.',
          'Fuel: let the pressure out of the rail, have an extinguisher at hand, no flame or lamp, no work over a pit; no hot work on what held fuel.',
          'Airbags and belt tensioners: battery off, then wait as long as the vehicle’s maker says before touching them; never put a meter on their plugs.',
          'Cut all electronics off from the supply before welding on the vehicle.',
          ...(isHigh
            ? [
                'Several batteries, or 48 V: insulated tools, one lead at a time, and both ends of a link dead before it is touched. Arcs at 48 V do not go out by themselves.',
              ]
            : []),
          ...(isLithium
            ? ['Lithium battery: no charging below 0 °C, no welding with it connected, and its own maker’s instructions first.']
            : []),
        ],
      },
      words('The check behind this file is an aid. The part’s own sheet, local codes and licensed practice come first.'),
    ],
  }
}

function entryLines(facts: Facts, entry: SavedEntry): readonly string[] {
  const { ticked } = facts
  const thenFound = facts.thenFound.get(entry.id)
  const facing = [
    ticked.has('prices') && entry.cost_minor !== null ? `cost ${moneyWords(entry.cost_minor, facts.currency)}` : '',
    ticked.has('names') ? `by ${entry.author}` : '',
  ].filter((one) => one !== '')
  return [
    ...(facing.length > 0 ? [facing.join(' · ')] : []),
    ...(entry.text.trim() === '' ? [] : [facts.mask.words(entry.text)]),
    sentencesOf(facts, entry),
    ...findingLines('Then found', thenFound?.appeared ?? []),
    ...findingLines('Then put right', thenFound?.cleared ?? []),
  ]
}

/** What was over or tight in words; what could not be judged is counted. */
function findingLines(title: string, findings: readonly Finding[]): readonly string[] {
  const told = findings.filter((one) => one.verdict === 'over' || one.verdict === 'tight').map((one) => `${one.verdict}: ${one.says}`)
  const unknown = findings.filter((one) => one.verdict === 'unknown').length
  if (unknown > 0) told.push(unknown === 1 ? '1 thing that could not be judged.' : `${unknown} things that could not be judged.`)
  return told.length > 0 ? [`${title}: ${told.join(' ')}`] : []
}

function kindTitle(kind: string): string {
  return partKind(kind)?.title ?? kind
}

const MOST_SENTENCES = 12

/** What was done, told; of a long entry the start. To whom a vehicle went is a person's name. */
function sentencesOf(facts: Facts, entry: SavedEntry): string {
  const told = entry.changes.flatMap((change, n) => {
    if (change.kind === 'joined') return []
    if (change.kind === 'left' && !facts.ticked.has('names')) return [`Left: ${change.how}.`]
    return [facts.mask.words(entry.sentences[n] ?? change.kind)]
  })
  const joins = entry.changes.filter((change) => change.kind === 'joined').length
  const more = told.length - MOST_SENTENCES
  return [
    ...told.slice(0, MOST_SENTENCES),
    ...(more > 0 ? [`And ${more} more.`] : []),
    ...(joins > 0 ? [`${joins} ${joins === 1 ? 'join' : 'joins'} made.`] : []),
  ].join(' ')
}
