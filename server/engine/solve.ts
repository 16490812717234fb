/** The operating point of one condition: the alternator's three regimes, each a nodal analysis repeated until nothing moves. */
import { elementCurrents } from './assembly.ts'
import type { LoadLaw } from './load-law.ts'
import { type Element, type Network, partOf } from './network.ts'
import { newton } from './newton.ts'
import { type OperatingPoint, pointOf, unsolved } from './operating-point.ts'
import { isStarved, moveConverters, moveDiodes, moveSense, type Settings } from './regulators.ts'
import { type AlternatorState, alternatorsAmong, batteriesCharged, mergedSources, type SourceState, sourcesAt } from './sources-at.ts'
import { systemOf } from './system.ts'
import { moveTemperatures, warmthOf } from './thermal.ts'
import type { Condition } from './vehicle.ts'

export type SolveGiven = {
  readonly condition: Condition
  readonly closed: Uint8Array
  /** elements of kind load and coil that draw */
  readonly drawing: ReadonlySet<number>
  readonly laws: ReadonlyMap<number, LoadLaw>
  readonly pinned_degC: number | undefined
}

/** Solves one condition. Where nothing consistent is found it says so and leaves NaN: no figure is invented. */
export function solve(network: Network, given: SolveGiven): OperatingPoint {
  const { condition, closed } = given
  const ready = sourcesAt(network, given)
  const alternators = alternatorsAmong(network, condition, ready)
  const clash = mergedSources(network, closed, ready)
  if (clash) return unsolved(network, closed, [clash])
  const wanted = attempt(network, given, ready, alternators, 'held')
  if (!wanted)
    return unsolved(network, closed, [
      `With ${condition.name}, the network has no working point: a load asks more than its feed can bring.`,
    ])
  for (const alternator of alternators) alternator.wanted_A = givenBy(wanted, alternator.component)
  let point = wanted
  if (alternators.some((one) => one.limit_A !== null && one.wanted_A > one.limit_A * (1 + 1e-9))) {
    const floating = attempt(network, given, ready, alternators, 'floating')
    const regime = floating && floatingHolds(network, floating) ? 'floating' : 'discharging'
    const settled = regime === 'floating' ? floating : attempt(network, given, ready, alternators, 'discharging')
    if (!settled)
      return unsolved(network, closed, [`With ${condition.name}, the alternator is at its limit and the rest has no working point.`])
    point = settled
    for (const alternator of alternators) alternator.regime = regime
  }
  for (const alternator of alternators) alternator.gives_A = givenBy(point, alternator.component)
  return { ...point, alternators }
}

/** The point in one regime. Discharging, a battery that would absorb is set to neither give nor take, until none would. */
function attempt(
  network: Network,
  given: SolveGiven,
  ready: readonly SourceState[],
  alternators: readonly AlternatorState[],
  regime: AlternatorState['regime'],
): OperatingPoint | null {
  const limits_A = new Map(alternators.map((one) => [one.component, one.limit_A ?? 0]))
  const charged = batteriesCharged(network, given.closed, ready)
  const charge_A = given.condition.charge_A ?? 0
  let absorbers = new Set<string>()
  for (let round = 0; round < 8; round++) {
    const sources = ready.map((source): SourceState => {
      const limit_A = limits_A.get(source.component)
      if (limit_A !== undefined) return regime === 'held' ? { ...source } : { ...source, mode: 'current', gives_A: limit_A }
      if (!charged.includes(source)) return { ...source }
      if (regime === 'held') return { ...source, mode: 'current', gives_A: -charge_A / charged.length }
      if (regime === 'floating' || absorbers.has(source.component)) return { ...source, mode: 'current', gives_A: 0 }
      return { ...source }
    })
    const point = iterate(network, given, sources)
    if (!point || regime !== 'discharging') return point
    const more = point.sources.filter(
      (one) => partOf(network, one.component).kind === 'battery' && one.mode === 'norton' && one.gives_A < -1e-9,
    )
    if (more.length === 0) return point
    absorbers = new Set([...absorbers, ...more.map((one) => one.component)])
  }
  return null
}

/** Newton, temperature, converters, diodes and sense lines, until none of them moves. */
function iterate(network: Network, given: SolveGiven, sources: readonly SourceState[]): OperatingPoint | null {
  const system = systemOf(network, given, sources)
  const warmth = warmthOf(network, given.pinned_degC)
  const settings: Settings = { sources, inputs_A: new Map(), diodesOff: new Set() }
  const work = { ...settings, ohms: warmth.ohms, laws: given.laws }
  let voltages: Float64Array | null = null
  for (let round = 0; round < 100; round++) {
    voltages = newton(system, work, voltages)
    if (!voltages) return null
    const trial = { voltages, currents: elementCurrents(system, work, voltages) }
    let moved = given.pinned_degC === undefined && moveTemperatures(network, warmth, trial.currents)
    moved = moveConverters(system, settings, trial) || moved
    moved = moveDiodes(system, settings, trial) || moved
    moved = moveSense(system, settings, trial) || moved
    if (moved) continue
    if (isStarved(system, settings, trial)) return null
    for (const source of sources) source.gives_A = -(trial.currents[source.element] as number)
    return pointOf(system, { ...work, ...trial, temperatures: warmth.temperatures })
  }
  return null
}

/** An alternator at its limit that stays below its set-point, with batteries that would give nothing: what floating supposes. */
function floatingHolds(network: Network, point: OperatingPoint): boolean {
  return point.sources.every((source) => {
    const { from, to } = network.elements[source.element] as Element
    const volts = (point.voltage_V[from] as number) - (point.voltage_V[to] as number)
    const { kind } = partOf(network, source.component)
    if (kind === 'alternator') return volts <= source.setPoint_V + 1e-9
    return kind !== 'battery' || source.mode !== 'current' || volts >= source.setPoint_V - 1e-9
  })
}

function givenBy(point: OperatingPoint, component: string): number {
  return point.sources.find((one) => one.component === component)?.gives_A ?? 0
}
