/** Past 200 lines: each section beside the words it alone uses. What is fitted: identity, sources, loads, fuel. */
import type { Finding } from '../../engine/report.ts'
import type { Grade } from '../../engine/vehicle.ts'
import { wayDoubts } from '../../engine/way-doubts.ts'
import { dateWords, figure, figureOr, kilometres } from '../../web/format.ts'
import { figuresOf } from '../shared/finding-view.ts'
import { leftWords } from '../shared/left-words.ts'
import { type Block, type Section, tableOr, words } from '../shared/paper.ts'
import { doubt } from '../shared/rating-words.ts'
import { byName, type Facts, nameOf, ratingOf, ratingsOf, together, zoneOf } from './facts.ts'

export function identity(facts: Facts): Section {
  const { vehicle, state, circuit, ticked } = facts
  const { systemVoltage_V, make, model, year, vin, plate, keptAt, maximum_V, reserve_h, leftOn, leftHow, leftTo } = state.vehicle
  const said = (value: unknown) =>
    ['string', 'number'].includes(typeof value) && String(value).trim() !== '' ? String(value) : 'not recorded'
  const batteries = circuit.componentsOf('battery')
  return {
    id: 'identity',
    title: 'Identity',
    blocks: [
      {
        kind: 'facts',
        facts: [
          { label: 'Vehicle', value: vehicle.name },
          {
            label: 'Make, model, year',
            value: [...new Set([make, model, year].map(said))].length === 1 ? said(make) : [make, model, year].map(said).join(', '),
          },
          ...(ticked.has('vin') ? [{ label: 'VIN', value: said(vin) }] : []),
          ...(ticked.has('plate') ? [{ label: 'Plate', value: said(plate) }] : []),
          ...(ticked.has('addresses') ? [{ label: 'Kept at', value: said(keptAt) }] : []),
          { label: 'Odometer', value: vehicle.odometer_km === null ? 'not recorded' : kilometres(vehicle.odometer_km) },
          { label: 'System voltage', value: `${systemVoltage_V} V` },
          { label: 'Ground', value: groundWords(facts) },
          {
            label: 'Batteries',
            value:
              batteries.map((key) => `${nameOf(facts, key)}, ${circuit.part(key).name}, ${zoneOf(facts, key)}`).join('; ') ||
              'none recorded',
          },
          { label: 'Isolator', value: isolatorWords(facts) },
          ...(reserve_h === undefined ? [] : [{ label: 'To stand with the engine off', value: figure(reserve_h, 'h') }]),
          ...(maximum_V === undefined ? [] : [{ label: 'Highest voltage', value: figure(maximum_V, 'V') }]),
          ...(typeof leftOn === 'string'
            ? [
                {
                  label: 'Has left',
                  value: leftWords({ on: leftOn, how: String(leftHow), to: ticked.has('names') ? String(leftTo ?? '') : '' }),
                },
              ]
            : []),
        ],
      },
    ],
  }
}

export function sources(facts: Facts): Section {
  const { circuit } = facts
  const keys = byName(facts, 'battery', 'alternator', 'charger', 'converter')
  const links = circuit
    .componentsOf('fuse', 'breaker', 'relay', 'switch', 'diode')
    .filter((key) => circuit.batteriesLinkedBy(key).length > 0)
  const batteries = circuit.componentsOf('battery')
  return {
    id: 'sources',
    title: 'Sources',
    blocks: [
      ...tableOr(
        {
          caption: '',
          heads: [
            { label: 'Source', share: 2 },
            { label: 'Part', share: 2.4 },
            { label: 'Where', share: 1.6 },
            { label: 'Figures', share: 5 },
          ],
          rows: keys.map((key) => [nameOf(facts, key), circuit.part(key).name, zoneOf(facts, key), ratingsOf(facts, key)]),
        },
        'No source is recorded.',
      ),
      ...(batteries.length < 2
        ? []
        : [
            words(
              links.length > 0
                ? `On the way between ${batteries.map((key) => nameOf(facts, key)).join(' and ')}: ${links.map((key) => nameOf(facts, key)).join('; ')}.`
                : 'No link between the batteries is recorded.',
            ),
          ]),
    ],
  }
}

export function loads(facts: Facts): Section {
  const { circuit, document } = facts
  const keys = byName(facts, 'load', 'pump')
  const zones = (document.zones ?? []).map((zone) => [
    zone.name,
    degrees(zone.ambient_degC, zone.evidence?.ambient_degC),
    degrees(zone.peak_degC, zone.evidence?.peak_degC),
    zone.ingress ?? 'not recorded',
  ])
  return {
    id: 'loads',
    title: 'Loads',
    blocks: [
      ...tableOr(
        {
          caption: '',
          heads: [
            { label: 'Load', share: 2.2 },
            { label: 'Part', share: 2.2 },
            { label: 'Where', share: 1.5 },
            { label: 'Draws', share: 1.7 },
            { label: 'Inrush', share: 1.5 },
            { label: 'Duty', share: 1.2 },
            { label: 'At its terminals, least', share: 1.5 },
          ],
          rows: keys.map((key) => [
            nameOf(facts, key),
            circuit.part(key).name,
            zoneOf(facts, key),
            drawWords(facts, key),
            inrushWords(facts, key),
            ratingOf(facts, key, 'duty') === 'not known' ? 'not recorded' : ratingOf(facts, key, 'duty'),
            leastVolts(facts, key),
          ]),
        },
        'No load is recorded.',
      ),
      ...(zones.length === 0
        ? []
        : [
            ...tableOr(
              {
                caption: 'Zones',
                heads: [
                  { label: 'Zone', share: 2 },
                  { label: 'Ambient', share: 1.5 },
                  { label: 'Peak', share: 1.5 },
                  { label: 'Water and dust', share: 1.5 },
                ],
                rows: zones,
              },
              '',
            ),
          ]),
    ],
  }
}

export function fuel(facts: Facts): Section {
  const { circuit, state } = facts
  const pumps = byName(facts, 'pump')
  const hoses = byName(facts, 'hose')
  const demand = state.vehicle.fuelDemand
  const blocks: Block[] = [
    ...tableOr(
      {
        caption: 'Pumps',
        heads: [
          { label: 'Pump', share: 2 },
          { label: 'Part', share: 2 },
          { label: 'Supply, worst', share: 1.5 },
          { label: 'Set pressure', share: 1.5 },
          { label: 'Delivery (pressure, supply, flow, current)', share: 4 },
        ],
        rows: pumps.map((key) => [
          nameOf(facts, key),
          circuit.part(key).name,
          leastVolts(facts, key),
          figureOr(circuit.component(key).setPressure_kPa ?? null, 'kPa'),
          ratingOf(facts, key, 'delivery'),
        ]),
      },
      'No fuel pump is recorded.',
    ),
    ...tableOr(
      {
        caption: 'Hoses',
        heads: [
          { label: 'Hose', share: 2 },
          { label: 'SAE J30 class', share: 1.5 },
          { label: 'Bore', share: 1 },
          { label: 'Working pressure', share: 1.5 },
          { label: 'Length', share: 1 },
          { label: 'Placed', share: 1.5 },
          { label: 'Fitted or changed', share: 1.5 },
        ],
        rows: hoses.map((key) => [
          nameOf(facts, key),
          ratingOf(facts, key, 'service'),
          ratingOf(facts, key, 'bore_mm'),
          ratingOf(facts, key, 'working_kPa'),
          figureOr(circuit.component(key).length_m ?? null, 'm'),
          circuit.component(key).placement ?? zoneOf(facts, key),
          dateOr(state.fittedOn.get(key)),
        ]),
      },
      'No fuel hose is recorded: class, bore and age are to be read off the hoses themselves.',
    ),
    words(
      demand === undefined
        ? 'What the engine asks of the fuel system, the regulator with its reference, filters, vents, roll-over valve and cut-off are not recorded.'
        : `What the engine asks: ${Object.entries(demand)
            .map(([name, value]) => DEMAND[name]?.(value) ?? `${name} ${value}`)
            .join(', ')}. Regulator, filters, vents, roll-over valve and cut-off are not recorded.`,
    ),
  ]
  return { id: 'fuel', title: 'Fuel', blocks }
}

function dateOr(day: string | undefined): string {
  return day === undefined ? 'not recorded' : dateWords(day)
}

const DEMAND: Readonly<Record<string, (value: number | string) => string>> = {
  power_kW: (value) => `power ${value} kW`,
  bsfc_gPerkWh: (value) => `fuel for that power ${value} g/kWh`,
  fuel: (value) => `fuel ${value}`,
  density_kgPerL: (value) => `its density ${value} kg/L`,
  margin: (value) => `margin ${value}`,
}

/** The chassis is the negative side where a load returns by it: currents are counted from the positive posts. */
function groundWords({ circuit }: Facts): string {
  const body = circuit.componentsOf('chassis')
  if (body.length === 0) return 'no frame or body recorded'
  const byBody = circuit.componentsOf('load', 'pump').filter((load) => circuit.returnOf(load).some((key) => body.includes(key)))
  return byBody.length > 0 ? 'negative to the frame' : 'no load is recorded as returning by the frame'
}

/** A switch is called the isolator only where all loads of a battery, but its starter, lie behind it. */
function isolatorWords(facts: Facts): string {
  const { circuit } = facts
  const loadsOf = (battery: string) =>
    circuit
      .componentsOf('load', 'pump')
      .filter((load) => circuit.feedFrom({ source: battery, load }).length > 0 && circuit.rawRating(load, 'starter') !== true)
  const found = circuit.componentsOf('switch').filter((key) =>
    circuit.componentsOf('battery').some((battery) => {
      const all = loadsOf(battery)
      return (
        all.length > 0 &&
        all.every(
          (load) => circuit.feedFrom({ source: battery, load }).includes(key) || circuit.returnTo({ source: battery, load }).includes(key),
        )
      )
    }),
  )
  return found.length > 0
    ? found.map((key) => `${nameOf(facts, key)}, ${zoneOf(facts, key)}`).join('; ')
    : 'none recorded: the negative lead comes off the battery'
}

function degrees(value: number | undefined, grade: Grade | undefined): string {
  return value === undefined ? 'not known' : `${figure(value, 'degC')}${doubt(grade)}`
}

function drawWords(facts: Facts, key: string): string {
  const [current, power] = [ratingOf(facts, key, 'current_A'), ratingOf(facts, key, 'power_W')]
  const figures = [current, power].filter((one) => one !== 'not known')
  const rated = ratingOf(facts, key, 'rated_V')
  if (figures.length === 0) return 'not known'
  return rated === 'not known' ? figures.join(', ') : together(figures.join(', '), ' at ', rated)
}

function inrushWords(facts: Facts, key: string): string {
  const [current, time] = [ratingOf(facts, key, 'inrush_A'), ratingOf(facts, key, 'inrush_s')]
  return current === 'not known' ? 'not known' : time === 'not known' ? current : together(current, ' for ', time)
}

/** By the check, in the condition where it has least; only conditions in which it is on. With something unknown on its way no more than that is known. */
function leastVolts(facts: Facts, key: string): string {
  const finding = facts.report.findings.find((one: Finding) => one.rule === 'load-voltage' && one.component === key)
  let least: number | null = null
  let isDoubtful = false
  facts.circuit.conditions.forEach((condition) => {
    if (!condition.solved || !condition.isOn(key)) return
    const { missing, atLeastBecause } = wayDoubts({ circuit: facts.circuit, solved: condition, load: key })
    if (missing.length > 0 || atLeastBecause.length > 0) isDoubtful = true
    const [plus, minus] = [condition.voltage_V(`${key}:+`), condition.voltage_V(`${key}:-`)]
    if (plus !== null && minus !== null && (least === null || plus - minus < least)) least = plus - minus
  })
  if (least === null) return 'not worked out'
  const words = `${isDoubtful ? 'at most ' : ''}${figure(least, 'V')}`
  return finding && finding.verdict !== 'clear' && finding.verdict !== 'unknown'
    ? `${words}, ${finding.verdict} (${figuresOf(finding)})`
    : words
}
