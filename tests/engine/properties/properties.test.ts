/** What holds of every vehicle document. Long because it is one list of properties, each with what it asks of the solution. */
import fc from 'fast-check'
import { describe, expect, test, vi } from 'vitest'
import { parseDocument } from '../../../server/document/parse.ts'
import { sharesOf } from '../../../server/engine/branch.ts'
import { circuitOf, type SolvedCircuit } from '../../../server/engine/circuit-of.ts'
import { type Element, loadEnds, splitTerminal } from '../../../server/engine/network.ts'
import type { ConditionReport, Report } from '../../../server/engine/report.ts'
import { checkCircuit, checkVehicle } from '../../../server/engine/rules/check.ts'
import { rules } from '../../../server/engine/rules/index.ts'
import { materials } from '../../../server/engine/tables/material-constants.ts'
import { COIL_ohm } from '../../../server/engine/tables/typical-figures.ts'
import type { Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { randomDocument, reordered } from './random-documents.ts'

// The same documents every time; another number of them, or another seed, by the environment.
const numRuns = Number(process.env.LOOMBOOK_RANDOM_DOCUMENTS ?? 500)
vi.setConfig({ testTimeout: Math.max(60_000, numRuns * 100) })
const settings = { seed: Number(process.env.LOOMBOOK_RANDOM_SEED ?? 20261125), numRuns }

/**
 * A battery that states no resistance stands behind 10 µΩ: 1 nV of the solution is 0.1 mA there.
 * Temperatures are settled to 0.01 K, so a current that divides is known to 1e-4 of itself.
 */
const CURRENT_A = 1e-4
const DIVIDES = 1e-4

const holds = (property: (document: VehicleDocument) => void) => fc.assert(fc.property(randomDocument, property), settings)

/** Each property draws the same documents again: the first of them are solved once for all. */
const kept = new Map<string, { readonly circuit: SolvedCircuit; readonly report: Report }>()
function solvedOf(document: VehicleDocument): { readonly circuit: SolvedCircuit; readonly report: Report } {
  const text = JSON.stringify(document)
  const known = kept.get(text)
  if (known) return known
  const circuit = circuitOf(document)
  const made = { circuit, report: checkCircuit(circuit) }
  if (kept.size < 1200) kept.set(text, made)
  return made
}

test('the documents are valid, most of them solve, every verdict is among their findings, and every rule', () => {
  const seen = new Map<string, number>()
  const judged = new Set<string>()
  let conditions = 0
  let solved = 0
  holds((document) => {
    const parsed = parseDocument(document)
    expect(parsed.ok ? [] : parsed.faults).toEqual([])
    const { report } = solvedOf(document)
    conditions += report.conditions.length
    solved += report.conditions.filter((condition) => condition.solved).length
    for (const { verdict, rule } of report.findings) {
      seen.set(verdict, (seen.get(verdict) ?? 0) + 1)
      judged.add(rule)
    }
  })
  expect(solved / conditions).toBeGreaterThan(0.9)
  for (const verdict of ['over', 'tight', 'unknown', 'clear']) expect(seen.get(verdict) ?? 0, verdict).toBeGreaterThan(numRuns)
  expect(rules.map((rule) => rule.id).filter((id) => !judged.has(id))).toEqual([])
})

describe('the solution', () => {
  test('currents sum to zero at every terminal, and over every part that is one node', () => {
    holds((document) => {
      const { circuit } = solvedOf(document)
      for (const [n, condition] of circuit.conditions.entries()) {
        if (!condition.solved) continue
        for (const [node, sum_A] of sumsAt(circuit, n))
          expect(Math.abs(sum_A), `${condition.condition.key} ${node}`).toBeLessThan(CURRENT_A)
      }
    })
  })

  test('every wire, contact and joint obeys Ohm’s law at its temperature', () => {
    holds((document) => {
      const { circuit } = solvedOf(document)
      for (const point of circuit.points) {
        if (!point.solved) continue
        circuit.network.elements.forEach((element, at) => {
          if (!['series', 'join', 'contact-make'].includes(element.kind)) return
          const lost_V = (point.voltage_V[element.from] as number) - (point.voltage_V[element.to] as number)
          if (Number.isNaN(lost_V)) return
          const material = element.component === null ? null : circuit.rawRating(element.component, 'material')
          const temperature_degC = element.component === null ? undefined : point.temperature_degC.get(element.component)
          const alpha20_perK = typeof material === 'string' ? (materials[material]?.alpha20_perK ?? 0) : 0
          // R = R20·(1 + α20·(T − 20)); temperatures are settled to 0.01 K, which is 4e-5 of R.
          const ohm = element.ohm * (1 + alpha20_perK * ((temperature_degC ?? 20) - 20))
          const current_A = point.current_A[at] as number
          if (point.closed[at])
            expect(Math.abs(lost_V - current_A * ohm), element.component ?? 'join').toBeLessThan(1e-7 + 1e-4 * Math.abs(lost_V))
          else expect(current_A).toBe(0)
        })
      }
    })
  })

  test('a load stands between zero and the highest voltage there is', () => {
    holds((document) => {
      const { network, points } = solvedOf(document).circuit
      for (const point of points) {
        if (!point.solved) continue
        const ends = point.sources.map((source) => network.elements[source.element] as Element)
        const highest_V = Math.max(...ends.map((end) => point.voltage_V[end.from] as number))
        const lowest_V = Math.min(...ends.map((end) => point.voltage_V[end.to] as number))
        for (const at of point.activeLoads) {
          const [from, to] = loadEnds(network, network.elements[at] as Element)
          const load_V = (point.voltage_V[from] as number) - (point.voltage_V[to] as number)
          expect(load_V).toBeGreaterThan(0)
          expect(load_V).toBeLessThan(highest_V - lowest_V + 1e-6)
        }
      }
    })
  })

  test('one more load raises no other load’s voltage, feed and return being apart and no source at its limit', () => {
    let compared = 0
    holds((document) => {
      // Engine off: batteries are EMFs. Conductors at one temperature: their warming is no part of this.
      const still = { ...document, conditions: [{ key: 'off', name: 'off', engine: 'off' as const }] }
      const [before, after] = [still, withOneMoreLoad(still)].map((one) => circuitOf(one, { conductorTemperature_degC: 20 })) as [
        SolvedCircuit,
        SolvedCircuit,
      ]
      if (!before.points[0]?.solved || !after.points[0]?.solved) return
      for (const load of before.componentsOf('load')) {
        const [was_V, is_V] = [before, after].map((circuit) => loadVolts(circuit, load)) as [number, number]
        if (Number.isNaN(was_V)) continue
        compared++
        expect(is_V, load).toBeLessThanOrEqual(was_V + 1e-7)
      }
    })
    expect(compared).toBeGreaterThan(numRuns)
  })

  test('power in equals power out, by the figures of the report', () => {
    holds((document) => {
      const { circuit, report } = solvedOf(document)
      report.conditions.forEach((condition, n) => {
        if (!condition.solved) return
        const works = (relay: string) => circuit.points[n]?.activeLoads.has(circuit.drawOf(relay)) === true
        const { given_W, taken_W } = powers({ document, condition, works })
        expect(Math.abs(given_W - taken_W), condition.key).toBeLessThan(1e-3 + 1e-6 * given_W)
      })
    })
  })
})

describe('the report', () => {
  test('the order of parts, components, zones and joins, and an equal part under another key, change no byte of it', () => {
    const changed = randomDocument.chain((document) => fc.tuple(fc.constant(document), reordered(document), fc.nat()))
    fc.assert(
      fc.property(changed, ([document, other, at]) => {
        expect(JSON.stringify(checkVehicle(withAnotherPart(other, at)))).toBe(JSON.stringify(solvedOf(document).report))
      }),
      settings,
    )
  })

  test('raising what switches, relays, blocks and joints may carry leaves clear what was clear, and turns nothing over', () => {
    let compared = 0
    holds((document) => {
      const { report } = solvedOf(document)
      const were = new Map(report.findings.map((finding) => [`${finding.rule} ${finding.component}`, finding]))
      for (const finding of checkVehicle(withHigherLimits(document)).findings) {
        const was = were.get(`${finding.rule} ${finding.component}`)
        // Which finding stands for a part whose figures are only assumed may change with its limits.
        if (!was || finding.rule === 'rating-evidence') continue
        compared++
        const label = `${finding.rule} ${finding.component}`
        if (was.verdict === 'clear') expect(finding.verdict, label).toBe('clear')
        if (finding.verdict === 'over') expect(was.verdict, label).toBe('over')
      }
    })
    expect(compared).toBeGreaterThan(numRuns)
  })

  test('every number in it is finite', () => {
    holds((document) => {
      expect(notFinite(solvedOf(document).report, 'report')).toEqual([])
    })
  })
})

describe('the shares of a component', () => {
  test('sum to its current, what sources exchange included; of loads alone where one source feeds all', () => {
    holds((document) => {
      const { circuit } = solvedOf(document)
      eachShared(circuit, ({ shares, current_A, condition, label }) => {
        const sumOf = (some: typeof shares) => some.reduce((sum, share) => sum + share.current_A, 0)
        const all_A = shares.reduce((sum, share) => sum + Math.abs(share.current_A), 0)
        const near_A = CURRENT_A + DIVIDES * all_A
        expect(Math.abs(sumOf(shares) - current_A), label).toBeLessThan(near_A)
        const fed = circuit.points[condition]?.sources.filter((source) => source.mode !== 'off') ?? []
        if (fed.length === 1) expect(Math.abs(sumOf(shares.filter((share) => share.load !== null)) - current_A), label).toBeLessThan(near_A)
      })
    })
  })

  test('leave to the sources what flows with every load off', () => {
    let compared = 0
    holds((document) => {
      // Conductors at one temperature, so that resistances are the same with and without loads; engine off, so that sources are EMFs.
      const on = { ...document, conditions: [{ key: 'on', name: 'on', engine: 'off' as const }] }
      const off = { ...document, conditions: [{ key: 'off', name: 'off', engine: 'off' as const, on: [] }] }
      const [loaded, idle] = [on, off].map((one) => circuitOf(one, { conductorTemperature_degC: 20 })) as [SolvedCircuit, SolvedCircuit]
      const idlePoint = idle.points[0]
      eachShared(loaded, ({ shares, at, label }) => {
        const between_A = shares.find((share) => share.load === null)?.current_A ?? 0
        compared++
        expect(Math.abs(between_A - (idlePoint?.current_A[at] as number)), label).toBeLessThan(CURRENT_A)
      })
    })
    expect(compared).toBeGreaterThan(numRuns)
  })
})

/** Every plain limit half as much again. Not a fuse’s rating: what is behind it may then carry more. */
function withHigherLimits(document: VehicleDocument): VehicleDocument {
  const limits = ['make_A', 'way_A', 'total_A', 'pole_A', 'holder_A', 'breaking_A', 'maxAmbient_degC', 'maximum_V', 'entryMax_mm2']
  const raised = (part: VehicleDocument['parts'][number]) =>
    Object.fromEntries(
      Object.entries(part.ratings).map(([name, value]) => {
        const isLimit = limits.includes(name) || (name === 'rated_A' && !['fuse', 'breaker'].includes(part.kind))
        return [name, isLimit && typeof value === 'number' ? value * 1.5 : value]
      }),
    )
  return { ...document, parts: document.parts.map((part) => ({ ...part, ratings: raised(part) })) }
}

/** 1 A more at the first block, back by the body. */
function withOneMoreLoad(document: VehicleDocument): VehicleDocument {
  const ratings = { behaviour: 'current', current_A: 1, rated_V: document.vehicle.systemVoltage_V }
  return {
    ...document,
    parts: [...document.parts, { key: 'one-more', kind: 'load', name: 'one more', ratings }],
    components: [...document.components, { key: 'one-more', name: 'one more', part: 'one-more' }],
    joins: [...document.joins, { from: 'block0:one-more', to: 'one-more:+' }, { from: 'one-more:-', to: 'chassis:one-more' }],
  }
}

/** V across a load; NaN where it is not fed. */
function loadVolts(circuit: SolvedCircuit, load: string): number {
  const { network, points } = circuit
  const [from, to] = loadEnds(network, network.elements[circuit.drawOf(load)] as Element)
  const voltage_V = points[0]?.voltage_V
  return (voltage_V?.[from] as number) - (voltage_V?.[to] as number)
}

/** One component of the document given an equal part of another key. */
function withAnotherPart(document: VehicleDocument, at: number): VehicleDocument {
  const component = document.components[at % document.components.length] as VehicleDocument['components'][number]
  const part = document.parts.find((one) => one.key === component.part) as VehicleDocument['parts'][number]
  return {
    ...document,
    parts: [{ ...part, key: 'another' }, ...document.parts],
    components: document.components.map((one) => (one === component ? { ...one, part: 'another' } : one)),
  }
}

/** Current out of each terminal; a part that is one node counts as one. A load of unrecorded return gives to the chassis. */
function sumsAt(circuit: SolvedCircuit, condition: number): ReadonlyMap<string, number> {
  const { network } = circuit
  const point = circuit.points[condition] as SolvedCircuit['points'][number]
  const sums = new Map<string, number>()
  const nodeOf = (terminal: number) => {
    const full = network.terminals[terminal] as string
    const { component } = splitTerminal(full)
    return network.oneNode.has(component) ? component : full
  }
  network.elements.forEach((element, at) => {
    const [from, to] = element.kind === 'load' ? loadEnds(network, element) : [element.from, element.to]
    const current_A = point.current_A[at] as number
    sums.set(nodeOf(from), (sums.get(nodeOf(from)) ?? 0) + current_A)
    sums.set(nodeOf(to), (sums.get(nodeOf(to)) ?? 0) - current_A)
  })
  return sums
}

/** What sources give and what everything else takes: P = U·I, for joints and coils U²/R. */
function powers(given: {
  readonly document: VehicleDocument
  readonly condition: ConditionReport
  readonly works: (relay: string) => boolean
}): { readonly given_W: number; readonly taken_W: number } {
  const { document, condition, works } = given
  const partOf = new Map(document.parts.map((part) => [part.key, part]))
  const volts = (terminal: string) => condition.terminals_V[terminal] ?? 0
  const across = (from: string, to: string) => volts(from) - volts(to)
  let given_W = 0
  let taken_W = 0
  const flows = (power_W: number) => {
    if (power_W < 0) given_W -= power_W
    else taken_W += power_W
  }
  for (const { key, part } of document.components) {
    const shown = condition.components[key]
    const { kind, ratings } = partOf.get(part) as VehicleDocument['parts'][number]
    if (kind === 'relay' && works(key)) flows(across(`${key}:86`, `${key}:85`) ** 2 / coil_ohm(ratings, document.vehicle.systemVoltage_V))
    if (!shown || shown.current_A === null || shown.current_A === 0) continue
    const returns = kind !== 'load' || document.joins.some((join) => join.from === `${key}:-`)
    const lost_V = returns ? shown.drop_V : across(`${key}:+`, 'chassis:ground')
    flows((lost_V ?? 0) * shown.current_A)
  }
  for (const { from, to, resistance_ohm } of document.joins) if (resistance_ohm) flows(across(from, to) ** 2 / resistance_ohm)
  return { given_W, taken_W }
}

function coil_ohm(ratings: Ratings, system_V: number): number {
  return typeof ratings.coil_ohm === 'number' ? ratings.coil_ohm : (COIL_ohm[system_V] as number)
}

/** Components of one two-ended element that has a resistance, in every condition that is solved. */
function eachShared(
  circuit: SolvedCircuit,
  ask: (given: {
    readonly at: number
    readonly condition: number
    readonly current_A: number
    readonly shares: ReturnType<typeof sharesOf>
    readonly label: string
  }) => void,
): void {
  for (const component of circuit.componentsOf('conductor', 'fuse', 'breaker', 'relay', 'switch', 'connector')) {
    const [at] = circuit.wiresOf(component)
    if (at === undefined || !circuit.network.elements[at]?.ohm) continue
    circuit.conditions.forEach((solved, condition) => {
      const current_A = solved.current_A(component)
      if (current_A === null) return
      const label = `${component} in ${solved.condition.key}`
      ask({ at, condition, current_A, shares: sharesOf(circuit, condition, component), label })
    })
  }
}

/** Paths of numbers that are NaN or infinite. */
function notFinite(value: unknown, path: string): readonly string[] {
  if (typeof value === 'number') return Number.isFinite(value) ? [] : [path]
  if (typeof value !== 'object' || value === null) return []
  return Object.entries(value).flatMap(([key, one]) => notFinite(one, `${path}.${key}`))
}
