/** The operating point of one condition: nodal analysis with Newton for what is not linear. Long because the regimes share one assembly. */

import { localFlows } from './local-flows.ts'
import { type Element, loadEnds, type Network, ratingOf } from './network.ts'
import { factor, Pattern, solveFactored } from './sparse.ts'
import { materials } from './tables/material-constants.ts'
import { conductorTemperature_degC } from './thermal.ts'
import type { Condition, Part } from './vehicle.ts'

/** A held voltage enters as a Norton equivalent with this resistance. */
const HELD_ohm = 1e-5

export type LoadLaw = {
  readonly behaviour: 'resistive' | 'current' | 'power'
  readonly value: number
  readonly half_V: number
  readonly known: boolean
}

export type SourceState = {
  readonly component: string
  readonly element: number
  readonly emf_V: number
  readonly ohm: number
  /** A, given out of the positive terminal */
  gives_A: number
  mode: 'norton' | 'current' | 'off'
}

export type AlternatorState = {
  readonly component: string
  regime: 'held' | 'floating' | 'discharging'
  gives_A: number
  wanted_A: number
  limit_A: number | null
}

export type OperatingPoint = {
  readonly solved: boolean
  readonly faults: readonly string[]
  /** V by terminal number; NaN where unfed */
  readonly voltage_V: Float64Array
  /** A by element, from → to */
  readonly current_A: Float64Array
  readonly closed: Uint8Array
  readonly activeLoads: ReadonlySet<number>
  readonly temperature_degC: ReadonlyMap<string, number>
  readonly alternators: readonly AlternatorState[]
  readonly sources: readonly SourceState[]
  readonly assumedTerminals: ReadonlySet<number>
  readonly flows_A: ReadonlyMap<number, number>
  /** d(current of element e)/d(current drawn between two terminals): for shares */
  readonly shareOf: (element: number) => ((load: number) => number) | null
}

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
  const faults: string[] = []
  const { condition } = given
  const engineTurns = condition.engine === 'running' || condition.engine === 'idle'
  const alternators: AlternatorState[] = []
  const ready = sourcesAt(network, { ...given, alternators: engineTurns })
  if (engineTurns) {
    for (const source of ready.filter((one) => partOf(network, one.component).kind === 'alternator')) {
      const limit = partOf(network, source.component).ratings[condition.engine === 'idle' ? 'idleOutput_A' : 'output_A']
      alternators.push({
        component: source.component,
        regime: 'held',
        gives_A: 0,
        wanted_A: 0,
        limit_A: typeof limit === 'number' ? limit : null,
      })
    }
  }
  const clash = mergedSources(network, given.closed, ready)
  if (clash) return unsolved(network, given, [clash])
  const wanted = attempt(network, given, ready, alternators, 'held')
  if (!wanted) {
    faults.push(`With ${condition.name}, the network has no working point: a load asks more than its feed can bring.`)
    return unsolved(network, given, faults)
  }
  for (const alternator of alternators) alternator.wanted_A = givenBy(wanted, alternator.component)
  let point = wanted
  const beyond = alternators.some((one) => one.limit_A !== null && one.wanted_A > one.limit_A * (1 + 1e-9))
  if (beyond) {
    const floating = attempt(network, given, ready, alternators, 'floating')
    const regime = floating && floatingHolds(network, floating, alternators) ? 'floating' : 'discharging'
    const settled = regime === 'floating' ? floating : attempt(network, given, ready, alternators, 'discharging')
    if (!settled)
      return unsolved(network, given, [`With ${condition.name}, the alternator is at its limit and the rest has no working point.`])
    point = settled
    for (const alternator of alternators) alternator.regime = regime
  }
  for (const alternator of alternators) alternator.gives_A = givenBy(point, alternator.component)
  return { ...point, faults: [...faults, ...point.faults], alternators }
}

type Regime = 'held' | 'floating' | 'discharging'

function attempt(
  network: Network,
  given: SolveGiven,
  ready: readonly SourceState[],
  alternators: readonly AlternatorState[],
  regime: Regime,
): OperatingPoint | null {
  const limits = new Map(alternators.map((one) => [one.component, one.limit_A ?? 0]))
  const withAlternator = alternators.length > 0
  const charge_A = given.condition.charge_A ?? 0
  const charging = ready.filter(
    (source) => partOf(network, source.component).kind === 'battery' && sharesNet(network, given.closed, source, ready, alternators),
  )
  let absorbers = new Set<string>()
  for (let round = 0; round < 8; round++) {
    const sources = ready.map((source): SourceState & { draws_A?: number } => {
      const kind = partOf(network, source.component).kind
      if (kind === 'alternator')
        return regime === 'held'
          ? { ...source, mode: 'norton' }
          : { ...source, mode: 'current', gives_A: limits.get(source.component) ?? 0 }
      if (kind !== 'battery' || !withAlternator || !charging.includes(source)) return { ...source }
      if (regime === 'held') return { ...source, mode: 'current', gives_A: -charge_A / charging.length }
      if (regime === 'floating' || absorbers.has(source.component)) return { ...source, mode: 'current', gives_A: 0 }
      return { ...source, mode: 'norton' }
    })
    const point = iterate(network, given, sources)
    if (!point) return null
    if (regime !== 'discharging') return point
    const more = point.sources.filter(
      (one) => partOf(network, one.component).kind === 'battery' && one.mode === 'norton' && one.gives_A < -1e-9,
    )
    if (more.length === 0) return point
    absorbers = new Set([...absorbers, ...more.map((one) => one.component)])
  }
  return null
}

/** Newton, temperature, converters, diodes and sense lines, until none of them moves. */
function iterate(network: Network, given: SolveGiven, sources: SourceState[]): OperatingPoint | null {
  const system = systemOf(network, given, sources)
  const ohms = Float64Array.from(network.elements, (element) => element.ohm)
  const temperatures = new Map<string, number>()
  const conductors = [...network.components.values()].filter((component) => partOf(network, component.key).kind === 'conductor')
  for (const component of conductors)
    setTemperature(network, component.key, startTemperature(network, component.key, given.pinned_degC), { ohms, temperatures })
  const inputs_A = new Map<number, number>()
  const diodesOff = new Set<number>()
  const emfs = sources.map((source) => source.emf_V)
  let voltages: Float64Array | null = null
  for (let round = 0; round < 100; round++) {
    voltages = newton(system, { network, given, sources, ohms, inputs_A, diodesOff, emfs, start: voltages })
    if (!voltages) return null
    const currents = elementCurrents(system, { network, given, sources, ohms, inputs_A, diodesOff, emfs, voltages })
    let moved = false
    if (given.pinned_degC === undefined) {
      for (const component of conductors) {
        const at = network.elementsOf.get(component.key)?.[0] as number
        const next = conductorTemperature_degC({ network, component: component.key, current_A: currents[at] as number })
        if (next === null) continue
        const before = temperatures.get(component.key) ?? 20
        if (Math.abs(next - before) > 0.01) moved = true
        setTemperature(network, component.key, next, { ohms, temperatures })
      }
    }
    moved = moveConverters(network, { sources, inputs_A, currents, voltages, system }) || moved
    moved = moveDiodes(network, { diodesOff, currents, voltages, system, closed: given.closed }) || moved
    moved = moveSense(network, { sources, emfs, voltages, system }) || moved
    if (!moved && isStarved(system, { network, sources, voltages })) return null
    if (!moved) {
      sources.forEach((source) => {
        source.gives_A = -(currents[source.element] as number)
      })
      return pointOf(system, { network, given, sources, ohms, inputs_A, diodesOff, emfs, voltages, currents, temperatures })
    }
  }
  return null
}

/** A source at its limit, and loads that together draw more: nothing holds the voltage up, and it falls below zero. */
function isStarved(
  system: System,
  given: { readonly network: Network; readonly sources: readonly SourceState[]; readonly voltages: Float64Array },
): boolean {
  const { network, sources, voltages } = given
  if (!sources.some((source) => source.mode === 'current' && partOf(network, source.component).kind !== 'battery')) return false
  return system.loads.some((load) => {
    const [a, b] = loadEnds(network, network.elements[load] as Element)
    return voltsAt(system, voltages, a) - voltsAt(system, voltages, b) < -1e-6
  })
}

type System = {
  readonly root: Int32Array
  /** unknown's number by union root; −1 for a reference, −2 for unfed */
  readonly unknown: Int32Array
  readonly pattern: Pattern
  readonly loads: readonly number[]
}

type Work = {
  readonly network: Network
  readonly given: SolveGiven
  readonly sources: readonly SourceState[]
  readonly ohms: Float64Array
  readonly inputs_A: ReadonlyMap<number, number>
  readonly diodesOff: ReadonlySet<number>
  readonly emfs: readonly number[]
}

/** Merges nodes, finds islands and references, and orders the elimination. */
function systemOf(network: Network, given: SolveGiven, sources: readonly SourceState[]): System {
  const merged = new Union(network.terminals.length)
  for (const terminals of network.oneNode.values()) for (const terminal of terminals) merged.join(terminals[0] as number, terminal)
  network.elements.forEach((element, at) => {
    if (given.closed[at] && isWire(element) && element.ohm === 0) merged.join(element.from, element.to)
  })
  const root = new Int32Array(network.terminals.length)
  for (let n = 0; n < root.length; n++) root[n] = merged.find(n)
  const loads = network.elements.flatMap((element, at) =>
    (element.kind === 'load' || element.kind === 'coil') && given.drawing.has(at) && isFed(network, given, sources, element) ? [at] : [],
  )
  const islands = new Union(network.terminals.length)
  const pairs: [number, number][] = []
  const tie = (a: number, b: number) => {
    islands.join(a, b)
    pairs.push([a, b])
  }
  network.elements.forEach((element, at) => {
    if (given.closed[at] && (isWire(element) || element.kind === 'diode') && root[element.from] !== root[element.to])
      tie(root[element.from] as number, root[element.to] as number)
  })
  for (const at of loads) {
    const [a, b] = loadEnds(network, network.elements[at] as Element)
    tie(root[a] as number, root[b] as number)
  }
  const zero = new Set<number>()
  const sourced = new Set<number>()
  const ends = sources.map((source) => network.elements[source.element] as Element)
  for (const element of ends) tie(root[element.from] as number, root[element.to] as number)
  for (const element of ends) sourced.add(islands.find(root[element.from] as number))
  const referenced = new Set<number>()
  const refer = (terminal: number) => {
    const island = islands.find(root[terminal] as number)
    if (referenced.has(island)) return
    referenced.add(island)
    zero.add(root[terminal] as number)
  }
  if (network.reference !== null) refer(network.reference)
  for (const element of ends) refer(element.to)
  const unknown = new Int32Array(network.terminals.length).fill(-2)
  let count = 0
  for (let n = 0; n < unknown.length; n++) {
    if (root[n] !== n || !sourced.has(islands.find(n))) continue
    unknown[n] = zero.has(n) ? -1 : count++
  }
  const known = pairs.flatMap(([a, b]): [number, number][] =>
    (unknown[a] as number) >= 0 && (unknown[b] as number) >= 0 ? [[unknown[a] as number, unknown[b] as number]] : [],
  )
  return { root, unknown, pattern: new Pattern(count, known), loads }
}

function newton(system: System, work: Work & { start: Float64Array | null }): Float64Array | null {
  const { pattern } = system
  let voltages = work.start ?? linearSolution(system, work, null, true)
  if (!voltages) return null
  let residual = residualNorm(system, work, voltages)
  for (let step = 0; step < 60; step++) {
    const target = linearSolution(system, work, voltages, false)
    if (!target) return null
    let share = 1
    let next = target
    let nextResidual = residualNorm(system, work, next)
    while (share > 1e-4 && !(nextResidual <= residual * (1 - 0.01 * share)) && nextResidual > 1e-9) {
      share /= 2
      next = new Float64Array(pattern.size)
      for (let n = 0; n < pattern.size; n++) next[n] = (voltages[n] as number) + share * ((target[n] as number) - (voltages[n] as number))
      nextResidual = residualNorm(system, work, next)
    }
    let move = 0
    for (let n = 0; n < pattern.size; n++) move = Math.max(move, Math.abs((next[n] as number) - (voltages[n] as number)))
    voltages = next
    residual = nextResidual
    if (move < 1e-11 * 100 || (move < 1e-8 && residual < 1e-8)) return residual < 1e-5 ? voltages : null
  }
  return null
}

/** One linear solution with loads linearised at `at` (open circuit where `open`). */
function linearSolution(system: System, work: Work, at: Float64Array | null, open: boolean): Float64Array | null {
  const { pattern } = system
  const values = pattern.values()
  const right = new Float64Array(pattern.size)
  stampWires(system, work, values, right)
  if (open) {
    for (const load of system.loads) {
      const law = work.given.laws.get(load)
      if (law?.behaviour === 'resistive' && law.value > 0) stampConductance(system, work.network, load, 1 / law.value, values)
    }
  } else {
    for (const load of system.loads) {
      const { current_A, slope_S, volts } = loadAt(system, work, load, at as Float64Array)
      stampConductance(system, work.network, load, slope_S, values)
      inject(system, work.network, load, -(current_A - slope_S * volts), right)
    }
  }
  // A load at an otherwise open end would leave a node without any conductance: a leak far below any figure shown.
  const diagonal = pattern.start[pattern.size] as number
  for (let n = 0; n < pattern.size; n++) values[diagonal + n] = (values[diagonal + n] as number) + 1e-15
  return factor(pattern, values) ? solveFactored(pattern, values, right) : null
}

function stampWires(system: System, work: Work, values: Float64Array, right: Float64Array): void {
  const { network, given, ohms, diodesOff, sources, emfs, inputs_A } = work
  const { unknown, root, pattern } = system
  const place = (a: number, b: number, siemens: number) => {
    const i = unknown[root[a] as number] as number
    const j = unknown[root[b] as number] as number
    if (i === j && i < 0) return
    if (i >= 0) add(values, pattern.position(i, i), siemens)
    if (j >= 0) add(values, pattern.position(j, j), siemens)
    if (i >= 0 && j >= 0) add(values, pattern.position(i, j), -siemens)
  }
  const push = (terminal: number, amperes: number) => {
    const i = unknown[root[terminal] as number] as number
    if (i >= 0) right[i] = (right[i] as number) + amperes
  }
  network.elements.forEach((element, at) => {
    if (!given.closed[at] || root[element.from] === root[element.to] || (unknown[root[element.from] as number] as number) === -2) return
    if (element.kind === 'diode') {
      if (diodesOff.has(at)) return
      place(element.from, element.to, 1 / HELD_ohm)
      const forward_V = forwardVoltage(network, element)
      push(element.from, forward_V / HELD_ohm)
      push(element.to, -forward_V / HELD_ohm)
    } else if (isWire(element) && element.ohm !== 0) place(element.from, element.to, 1 / (ohms[at] as number))
  })
  sources.forEach((source, n) => {
    const element = network.elements[source.element] as Element
    if (source.mode === 'norton') {
      place(element.from, element.to, 1 / source.ohm)
      push(element.from, (emfs[n] as number) / source.ohm)
      push(element.to, -(emfs[n] as number) / source.ohm)
    } else if (source.mode === 'current') {
      push(element.from, source.gives_A)
      push(element.to, -source.gives_A)
    }
  })
  for (const [at, input_A] of inputs_A) {
    const element = network.elements[at] as Element
    push(element.from, -input_A)
    push(element.to, input_A)
  }
}

/** Current, slope and volts of a load at a trial solution. resistive R; current I; power P/V down to h, then h²/P. */
function loadAt(system: System, work: Work, load: number, voltages: Float64Array): { current_A: number; slope_S: number; volts: number } {
  const element = work.network.elements[load] as Element
  const [a, b] = loadEnds(work.network, element)
  const volts = voltsAt(system, voltages, a) - voltsAt(system, voltages, b)
  const law = work.given.laws.get(load)
  if (!law?.known || law.value === 0) return { current_A: 0, slope_S: 0, volts }
  if (law.behaviour === 'resistive') return { current_A: volts / law.value, slope_S: 1 / law.value, volts }
  if (law.behaviour === 'current') return { current_A: law.value, slope_S: 0, volts }
  const { value: P, half_V: h } = law
  if (volts >= h) return { current_A: P / volts, slope_S: -P / (volts * volts), volts }
  return { current_A: (volts * P) / (h * h), slope_S: P / (h * h), volts }
}

function residualNorm(system: System, work: Work, voltages: Float64Array): number {
  const { pattern, unknown, root } = system
  const net = new Float64Array(pattern.size)
  const { network, given, ohms, diodesOff, sources, emfs, inputs_A } = work
  const flow = (a: number, b: number, amperes: number) => {
    const i = unknown[root[a] as number] as number
    const j = unknown[root[b] as number] as number
    if (i >= 0) net[i] = (net[i] as number) + amperes
    if (j >= 0) net[j] = (net[j] as number) - amperes
  }
  network.elements.forEach((element, at) => {
    if (!given.closed[at] || root[element.from] === root[element.to] || (unknown[root[element.from] as number] as number) === -2) return
    const volts = voltsAt(system, voltages, element.from) - voltsAt(system, voltages, element.to)
    if (element.kind === 'diode') {
      if (!diodesOff.has(at)) flow(element.from, element.to, (volts - forwardVoltage(network, element)) / HELD_ohm)
    } else if (isWire(element) && element.ohm !== 0) flow(element.from, element.to, volts / (ohms[at] as number))
  })
  sources.forEach((source, n) => {
    const element = network.elements[source.element] as Element
    const volts = voltsAt(system, voltages, element.from) - voltsAt(system, voltages, element.to)
    if (source.mode === 'norton') flow(element.from, element.to, (volts - (emfs[n] as number)) / source.ohm)
    else if (source.mode === 'current') flow(element.from, element.to, -source.gives_A)
  })
  for (const [at, input_A] of inputs_A) flow((network.elements[at] as Element).from, (network.elements[at] as Element).to, input_A)
  for (const load of system.loads) {
    const [a, b] = loadEnds(network, network.elements[load] as Element)
    flow(a, b, loadAt(system, work, load, voltages).current_A)
  }
  let sum = 0
  for (const one of net) sum += one * one
  return Math.sqrt(sum)
}

function elementCurrents(system: System, work: Work & { voltages: Float64Array }): Float64Array {
  const { network, given, ohms, voltages, sources, emfs, diodesOff, inputs_A } = work
  const currents = new Float64Array(network.elements.length)
  network.elements.forEach((element, at) => {
    if (
      !given.closed[at] ||
      system.unknown[system.root[element.from] as number] === -2 ||
      system.root[element.from] === system.root[element.to]
    )
      return
    const volts = voltsAt(system, voltages, element.from) - voltsAt(system, voltages, element.to)
    if (element.kind === 'diode') currents[at] = diodesOff.has(at) ? 0 : (volts - forwardVoltage(network, element)) / HELD_ohm
    else if (isWire(element) && element.ohm !== 0) currents[at] = volts / (ohms[at] as number)
  })
  for (const load of system.loads) currents[load] = loadAt(system, work, load, voltages).current_A
  sources.forEach((source, n) => {
    const element = network.elements[source.element] as Element
    const volts = voltsAt(system, voltages, element.from) - voltsAt(system, voltages, element.to)
    currents[source.element] =
      source.mode === 'norton' ? (volts - (emfs[n] as number)) / source.ohm : source.mode === 'current' ? -source.gives_A : 0
  })
  for (const [at, input_A] of inputs_A) currents[at] = input_A
  return currents
}

function pointOf(
  system: System,
  work: Work & { voltages: Float64Array; currents: Float64Array; temperatures: ReadonlyMap<string, number> },
): OperatingPoint {
  const { network, given, voltages, currents } = work
  const voltage_V = new Float64Array(network.terminals.length)
  for (let n = 0; n < voltage_V.length; n++) {
    const at = system.unknown[system.root[n] as number] as number
    voltage_V[n] = at === -2 ? Number.NaN : at === -1 ? 0 : (voltages[at] as number)
  }
  const active = new Set(system.loads)
  const injections = new Float64Array(network.terminals.length)
  const zero: number[] = []
  network.elements.forEach((element, at) => {
    if (given.closed[at] && isWire(element) && element.ohm === 0) {
      zero.push(at)
      return
    }
    const current = currents[at] as number
    if (current === 0) return
    const [from, to] = element.kind === 'load' || element.kind === 'coil' ? loadEnds(network, element) : [element.from, element.to]
    injections[from] = (injections[from] as number) - current
    injections[to] = (injections[to] as number) + current
  })
  const { flows, assumed } = localFlows({ network, zero, injections })
  for (const [at, flow] of flows) currents[at] = flow
  return {
    solved: true,
    faults: [],
    voltage_V,
    current_A: currents,
    closed: given.closed,
    activeLoads: active,
    temperature_degC: work.temperatures,
    alternators: [],
    sources: work.sources,
    assumedTerminals: assumed,
    flows_A: flows,
    shareOf: adjoint(system, work),
  }
}

/** The sensitivity of one element's current to a current drawn by each load; none where it is open or bridged by 0 Ω, null for a merged (zero-ohm) element. */
function adjoint(system: System, work: Work): (element: number) => ((load: number) => number) | null {
  let factored: Float64Array | null = null
  return (at) => {
    const element = work.network.elements[at] as Element
    if (!work.given.closed[at] || (element.ohm !== 0 && system.root[element.from] === system.root[element.to])) return () => 0
    if (!isWire(element) || element.ohm === 0) return null
    if (!factored) {
      const values = system.pattern.values()
      // At the operating point a source that gives its limit is the same as one that holds its voltage.
      const sources = work.sources.map((source) =>
        source.mode === 'current' && partOf(work.network, source.component).kind !== 'battery'
          ? { ...source, mode: 'norton' as const, ohm: HELD_ohm }
          : source,
      )
      stampWires(system, { ...work, sources, inputs_A: new Map() }, values, new Float64Array(system.pattern.size))
      const diagonal = system.pattern.start[system.pattern.size] as number
      for (let n = 0; n < system.pattern.size; n++) values[diagonal + n] = (values[diagonal + n] as number) + 1e-15
      if (!factor(system.pattern, values)) return null
      factored = values
    }
    const right = new Float64Array(system.pattern.size)
    const siemens = 1 / (work.ohms[at] as number)
    const i = system.unknown[system.root[element.from] as number] as number
    const j = system.unknown[system.root[element.to] as number] as number
    if (i >= 0) right[i] = siemens
    if (j >= 0) right[j] = -siemens
    const y = solveFactored(system.pattern, factored, right)
    return (load) => {
      const [a, b] = loadEnds(work.network, work.network.elements[load] as Element)
      return -(voltsAt(system, y, a) - voltsAt(system, y, b))
    }
  }
}

function moveConverters(
  network: Network,
  given: { sources: SourceState[]; inputs_A: Map<number, number>; currents: Float64Array; voltages: Float64Array; system: System },
): boolean {
  let moved = false
  for (const source of given.sources) {
    const part = partOf(network, source.component)
    if (part.kind !== 'converter') continue
    const output = network.elements[source.element] as Element
    const limit = part.ratings.output_A
    const gives = -(given.currents[source.element] as number)
    if (source.mode === 'norton' && typeof limit === 'number' && gives > limit * (1 + 1e-9)) {
      source.mode = 'current'
      source.gives_A = limit
      moved = true
      continue
    }
    const out_V = voltsAt(given.system, given.voltages, output.from) - voltsAt(given.system, given.voltages, output.to)
    const input = (network.elementsOf.get(source.component) ?? []).find((at) => (network.elements[at] as Element).kind === 'load') as number
    const element = network.elements[input] as Element
    const in_V = voltsAt(given.system, given.voltages, element.from) - voltsAt(given.system, given.voltages, element.to)
    const efficiency = typeof part.ratings.efficiency === 'number' ? part.ratings.efficiency : 1
    const wanted_A = in_V > 0 ? Math.max(0, (out_V * gives) / (efficiency * in_V)) : 0
    const before = given.inputs_A.get(input) ?? 0
    if (Math.abs(wanted_A - before) > 1e-9 * Math.max(1, wanted_A)) moved = true
    given.inputs_A.set(input, wanted_A)
  }
  return moved
}

function moveDiodes(
  network: Network,
  given: { diodesOff: Set<number>; currents: Float64Array; voltages: Float64Array; system: System; closed: Uint8Array },
): boolean {
  let moved = false
  network.elements.forEach((element, at) => {
    if (element.kind !== 'diode' || !given.closed[at] || given.system.unknown[given.system.root[element.from] as number] === -2) return
    const volts = voltsAt(given.system, given.voltages, element.from) - voltsAt(given.system, given.voltages, element.to)
    const off = given.diodesOff.has(at) ? volts <= forwardVoltage(network, element) : (given.currents[at] as number) < -1e-9
    if (off === given.diodesOff.has(at)) return
    moved = true
    if (off) given.diodesOff.add(at)
    else given.diodesOff.delete(at)
  })
  return moved
}

/** A regulator that senses elsewhere raises its own terminals until the sensed point stands at the set-point. */
function moveSense(
  network: Network,
  given: { sources: readonly SourceState[]; emfs: number[]; voltages: Float64Array; system: System },
): boolean {
  let moved = false
  given.sources.forEach((source, n) => {
    const sense = network.terminalNumber.get(`${source.component}:sense`)
    if (sense === undefined || source.mode !== 'norton') return
    const element = network.elements[source.element] as Element
    if ((given.system.unknown[given.system.root[sense] as number] as number) === -2) return
    const short_V = source.emf_V - (voltsAt(given.system, given.voltages, sense) - voltsAt(given.system, given.voltages, element.to))
    if (Math.abs(short_V) < 1e-9) return
    given.emfs[n] = (given.emfs[n] as number) + short_V
    moved = true
  })
  return moved
}

function sourcesAt(network: Network, given: SolveGiven & { alternators: boolean }): SourceState[] {
  const nominal_V = network.doc.vehicle.systemVoltage_V
  const found: SourceState[] = []
  network.elements.forEach((element, at) => {
    if (element.kind !== 'source' || element.component === null || given.condition.open?.includes(element.component)) return
    const part = partOf(network, element.component)
    const rating = (name: string) =>
      ratingOf({ part, name, nominal_V: typeof part.ratings.nominal_V === 'number' ? part.ratings.nominal_V : nominal_V })?.value ?? null
    if (part.kind === 'battery')
      found.push({
        component: element.component,
        element: at,
        emf_V: rating('openCircuit_V') as number,
        ohm: Math.max(rating('internalResistance_ohm') ?? 0, HELD_ohm),
        gives_A: 0,
        mode: 'norton',
      })
    else if (part.kind === 'alternator' && given.alternators && rating('setPoint_V') !== null)
      found.push({
        component: element.component,
        element: at,
        emf_V: rating('setPoint_V') as number,
        ohm: HELD_ohm,
        gives_A: 0,
        mode: 'norton',
      })
    else if (part.kind === 'converter' && rating('output_V') !== null)
      found.push({
        component: element.component,
        element: at,
        emf_V: rating('output_V') as number,
        ohm: HELD_ohm,
        gives_A: 0,
        mode: 'norton',
      })
    else if (part.kind === 'charger' && given.condition.on?.includes(element.component) && rating('output_A') !== null)
      found.push({
        component: element.component,
        element: at,
        emf_V: rating('output_V') ?? 0,
        ohm: HELD_ohm,
        gives_A: rating('output_A') as number,
        mode: 'current',
      })
  })
  return found.filter(
    (source) => partOf(network, source.component).kind !== 'converter' || converterFed(network, given.closed, source, found),
  )
}

function converterFed(network: Network, closed: Uint8Array, converter: SourceState, sources: readonly SourceState[]): boolean {
  const nets = netsOf(network, closed)
  const input = (network.elementsOf.get(converter.component) ?? [])
    .map((at) => network.elements[at] as Element)
    .find((element) => element.kind === 'load') as Element
  return sources.some((source) => {
    const end = network.elements[source.element] as Element
    return source !== converter && nets.find(end.from) === nets.find(input.from) && nets.find(end.to) === nets.find(input.to)
  })
}

function isFed(network: Network, given: SolveGiven, sources: readonly SourceState[], element: Element): boolean {
  const nets = netsOf(network, given.closed)
  const [a, b] = loadEnds(network, element)
  return sources.some((source) => {
    const end = network.elements[source.element] as Element
    return nets.find(end.from) === nets.find(a) && nets.find(end.to) === nets.find(b)
  })
}

const netsByClosed = new WeakMap<Uint8Array, Union>()

/** Terminals that closed wires tie together, whatever their resistance. */
function netsOf(network: Network, closed: Uint8Array): Union {
  const known = netsByClosed.get(closed)
  if (known) return known
  const nets = new Union(network.terminals.length)
  for (const terminals of network.oneNode.values()) for (const terminal of terminals) nets.join(terminals[0] as number, terminal)
  network.elements.forEach((element, at) => {
    if (closed[at] && (isWire(element) || element.kind === 'diode')) nets.join(element.from, element.to)
  })
  netsByClosed.set(closed, nets)
  return nets
}

function sharesNet(
  network: Network,
  closed: Uint8Array,
  battery: SourceState,
  ready: readonly SourceState[],
  alternators: readonly AlternatorState[],
): boolean {
  const nets = netsOf(network, closed)
  const plus = nets.find((network.elements[battery.element] as Element).from)
  return ready.some(
    (one) =>
      alternators.some((alternator) => alternator.component === one.component) &&
      nets.find((network.elements[one.element] as Element).from) === plus,
  )
}

/** Two ideal sources tied straight together at different voltages have no answer. */
function mergedSources(network: Network, closed: Uint8Array, sources: readonly SourceState[]): string | null {
  const merged = new Union(network.terminals.length)
  for (const terminals of network.oneNode.values()) for (const terminal of terminals) merged.join(terminals[0] as number, terminal)
  network.elements.forEach((element, at) => {
    if (closed[at] && isWire(element) && element.ohm === 0) merged.join(element.from, element.to)
  })
  const ideal = sources.filter((source) => source.ohm <= HELD_ohm && partOf(network, source.component).kind === 'battery')
  for (const [n, one] of ideal.entries()) {
    for (const other of ideal.slice(n + 1)) {
      const [a, b] = [network.elements[one.element] as Element, network.elements[other.element] as Element]
      if (merged.find(a.from) !== merged.find(b.from) || merged.find(a.to) !== merged.find(b.to) || one.emf_V === other.emf_V) continue
      return `${nameOf(network, one.component)} and ${nameOf(network, other.component)} are tied straight together at different voltages (${one.emf_V} V and ${other.emf_V} V) and neither states an internal resistance.`
    }
  }
  return null
}

function floatingHolds(network: Network, point: OperatingPoint, alternators: readonly AlternatorState[]): boolean {
  const volts = (element: Element) => (point.voltage_V[element.from] as number) - (point.voltage_V[element.to] as number)
  return point.sources.every((source) => {
    const element = network.elements[source.element] as Element
    if (alternators.some((one) => one.component === source.component)) return volts(element) <= source.emf_V + 1e-9
    if (partOf(network, source.component).kind !== 'battery' || source.mode !== 'current') return true
    return volts(element) >= source.emf_V - 1e-9
  })
}

function unsolved(network: Network, given: SolveGiven, faults: readonly string[]): OperatingPoint {
  return {
    solved: false,
    faults,
    voltage_V: new Float64Array(network.terminals.length).fill(Number.NaN),
    current_A: new Float64Array(network.elements.length).fill(Number.NaN),
    closed: given.closed,
    activeLoads: new Set(),
    temperature_degC: new Map(),
    alternators: [],
    sources: [],
    assumedTerminals: new Set(),
    flows_A: new Map(),
    shareOf: () => null,
  }
}

function setTemperature(
  network: Network,
  key: string,
  temperature: number,
  into: { ohms: Float64Array; temperatures: Map<string, number> },
): void {
  const at = network.elementsOf.get(key)?.[0]
  if (at === undefined) return
  const part = partOf(network, key)
  const material = materials[typeof part.ratings.material === 'string' ? part.ratings.material : 'copper'] ?? materials.copper
  into.temperatures.set(key, temperature)
  // R = R20·(1 + α20·(T − 20))
  into.ohms[at] = (network.elements[at] as Element).ohm * (1 + (material?.alpha20_perK ?? 0) * (temperature - 20))
}

function startTemperature(network: Network, key: string, pinned_degC: number | undefined): number {
  if (pinned_degC !== undefined) return pinned_degC
  return ambientOf(network, key) ?? 20
}

function ambientOf(network: Network, key: string): number | null {
  return network.zones.get(network.components.get(key)?.zone ?? '')?.ambient_degC ?? null
}

export function isWire(element: Element): boolean {
  return element.kind === 'join' || element.kind === 'series' || element.kind === 'contact-make' || element.kind === 'contact-break'
}

function givenBy(point: OperatingPoint, component: string): number {
  return point.sources.find((one) => one.component === component)?.gives_A ?? 0
}

function forwardVoltage(network: Network, element: Element): number {
  const forward = partOf(network, element.component as string).ratings.forward_V
  return typeof forward === 'number' ? forward : 0
}

function partOf(network: Network, component: string): Part {
  return network.parts.get(network.components.get(component)?.part ?? '') as Part
}

function nameOf(network: Network, component: string): string {
  return network.components.get(component)?.name ?? component
}

function voltsAt(system: System, voltages: Float64Array, terminal: number): number {
  const at = system.unknown[system.root[terminal] as number] as number
  return at >= 0 ? (voltages[at] as number) : 0
}

function stampConductance(system: System, network: Network, load: number, siemens: number, values: Float64Array): void {
  const [a, b] = loadEnds(network, network.elements[load] as Element)
  const i = system.unknown[system.root[a] as number] as number
  const j = system.unknown[system.root[b] as number] as number
  if (i >= 0) add(values, system.pattern.position(i, i), siemens)
  if (j >= 0) add(values, system.pattern.position(j, j), siemens)
  if (i >= 0 && j >= 0 && i !== j) add(values, system.pattern.position(i, j), -siemens)
}

function inject(system: System, network: Network, load: number, amperes: number, right: Float64Array): void {
  const [a, b] = loadEnds(network, network.elements[load] as Element)
  const i = system.unknown[system.root[a] as number] as number
  const j = system.unknown[system.root[b] as number] as number
  if (i >= 0) right[i] = (right[i] as number) + amperes
  if (j >= 0) right[j] = (right[j] as number) - amperes
}

function add(values: Float64Array, at: number, amount: number): void {
  values[at] = (values[at] as number) + amount
}

class Union {
  readonly up: Int32Array
  constructor(size: number) {
    this.up = new Int32Array(size)
    for (let n = 0; n < size; n++) this.up[n] = n
  }
  find(n: number): number {
    let at = n
    while (this.up[at] !== at) {
      this.up[at] = this.up[this.up[at] as number] as number
      at = this.up[at] as number
    }
    return at
  }
  join(a: number, b: number): void {
    const [x, y] = [this.find(a), this.find(b)]
    if (x !== y) this.up[Math.max(x, y)] = Math.min(x, y)
  }
}
