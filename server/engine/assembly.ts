/** What stands in the matrix: conductances and injected currents of wires, diodes, sources and loads; by the same laws, what each carries. */
import { drawAt, type LoadLaw } from './load-law.ts'
import { type Element, isWire, loadEnds, type Network, partOf } from './network.ts'
import { factor } from './sparse.ts'
import { type Ends, loadVolts, type System, unknownAt, voltsAcross } from './system.ts'

/** A held voltage enters as a Norton equivalent with this resistance. */
export const HELD_ohm = 1e-5

/** A source as the matrix sees it: `norton` is `emf_V` behind `ohm`; `current` gives `gives_A` out of its positive end; `off` is nothing. */
export type Source = {
  readonly element: number
  readonly emf_V: number
  readonly ohm: number
  readonly gives_A: number
  readonly mode: 'norton' | 'current' | 'off'
}

/** The figures the matrix is filled with, but for the loads. */
export type Work = {
  /** Ω by element, at the temperature it has */
  readonly ohms: Float64Array
  readonly sources: readonly Source[]
  /** A that a converter takes in, by its input's element */
  readonly inputs_A: ReadonlyMap<number, number>
  /** the diodes that block */
  readonly diodesOff: ReadonlySet<number>
}

export type LoadedWork = Work & { readonly laws: ReadonlyMap<number, LoadLaw> }

/** Adds wires, conducting diodes, sources and converters' inputs to the matrix and its right side: all but the loads. */
export function stampWires(system: System, work: Work, values: Float64Array, right: Float64Array): void {
  const { network } = system
  network.elements.forEach((element, at) => {
    if (!isBetweenNodes(system, element, at)) return
    if (element.kind === 'diode') {
      if (work.diodesOff.has(at)) return
      tie(system, values, element, 1 / HELD_ohm)
      inject(system, right, element, forwardOf_V(network, element) / HELD_ohm)
    } else if (isWire(element) && element.ohm !== 0) tie(system, values, element, 1 / (work.ohms[at] as number))
  })
  for (const source of work.sources) {
    const element = network.elements[source.element] as Element
    if (source.mode === 'norton') {
      tie(system, values, element, 1 / source.ohm)
      inject(system, right, element, source.emf_V / source.ohm)
    } else if (source.mode === 'current') inject(system, right, element, source.gives_A)
  }
  for (const [at, input_A] of work.inputs_A) inject(system, right, network.elements[at] as Element, -input_A)
}

/** Adds the loads, each by the tangent to its law at the trial solution `at`. */
export function stampLoads(system: System, work: LoadedWork, at: Float64Array, values: Float64Array, right: Float64Array): void {
  for (const load of system.loads) {
    const ends = endsOf(system, load)
    const { current_A, slope_S, volts } = drawAt(work.laws.get(load), loadVolts(system, at, load))
    tie(system, values, ends, slope_S)
    inject(system, right, ends, -(current_A - slope_S * volts))
  }
}

/** Adds only the loads that are resistances: what a solution starts from. */
export function stampResistiveLoads(system: System, work: LoadedWork, values: Float64Array): void {
  for (const load of system.loads) {
    const law = work.laws.get(load)
    if (law?.behaviour === 'resistive' && law.value > 0) tie(system, values, endsOf(system, load), 1 / law.value)
  }
}

/** Factors the stamped values in place; false where a pivot vanishes. */
export function factorStamped(system: System, values: Float64Array): boolean {
  const { pattern } = system
  // A load at an otherwise open end would leave a node without any conductance: a leak far below any figure shown.
  const diagonal = pattern.start[pattern.size] as number
  for (let n = 0; n < pattern.size; n++) add(values, diagonal + n, 1e-15)
  return factor(pattern, values)
}

/** How far the nodes' currents are from summing to zero, in A: √Σr², r what leaves each node. */
export function residualNorm(system: System, work: LoadedWork, voltages: Float64Array): number {
  const { network } = system
  const net = new Float64Array(system.pattern.size)
  network.elements.forEach((element, at) => {
    if (isBetweenNodes(system, element, at)) inject(system, net, element, wireCurrent_A(system, work, voltages, at))
  })
  for (const source of work.sources)
    inject(system, net, network.elements[source.element] as Element, sourceCurrent_A(system, source, voltages))
  for (const [at, input_A] of work.inputs_A) inject(system, net, network.elements[at] as Element, input_A)
  for (const load of system.loads)
    inject(system, net, endsOf(system, load), drawAt(work.laws.get(load), loadVolts(system, voltages, load)).current_A)
  let sum = 0
  for (const one of net) sum += one * one
  return Math.sqrt(sum)
}

/** A by element, from → to. 0 for wires inside one node: the matrix does not know them. */
export function elementCurrents(system: System, work: LoadedWork, voltages: Float64Array): Float64Array {
  const { network } = system
  const currents = new Float64Array(network.elements.length)
  network.elements.forEach((element, at) => {
    if (isBetweenNodes(system, element, at)) currents[at] = wireCurrent_A(system, work, voltages, at)
  })
  for (const load of system.loads) currents[load] = drawAt(work.laws.get(load), loadVolts(system, voltages, load)).current_A
  for (const source of work.sources) currents[source.element] = sourceCurrent_A(system, source, voltages)
  for (const [at, input_A] of work.inputs_A) currents[at] = input_A
  return currents
}

/** V a diode drops where it conducts; 0 where its part does not say. */
export function forwardOf_V(network: Network, diode: Element): number {
  const forward = partOf(network, diode.component as string).ratings.forward_V
  return typeof forward === 'number' ? forward : 0
}

/** Closed, fed, and not inside one node. */
function isBetweenNodes(system: System, element: Element, at: number): boolean {
  return system.closed[at] !== 0 && system.root[element.from] !== system.root[element.to] && unknownAt(system, element.from) !== -2
}

function wireCurrent_A(system: System, work: Work, voltages: Float64Array, at: number): number {
  const element = system.network.elements[at] as Element
  if (element.kind === 'diode')
    return work.diodesOff.has(at) ? 0 : (voltsAcross(system, voltages, element) - forwardOf_V(system.network, element)) / HELD_ohm
  return isWire(element) && element.ohm !== 0 ? voltsAcross(system, voltages, element) / (work.ohms[at] as number) : 0
}

function sourceCurrent_A(system: System, source: Source, voltages: Float64Array): number {
  if (source.mode !== 'norton') return source.mode === 'current' ? -source.gives_A : 0
  return (voltsAcross(system, voltages, system.network.elements[source.element] as Element) - source.emf_V) / source.ohm
}

function endsOf(system: System, load: number): Ends {
  const [from, to] = loadEnds(system.network, system.network.elements[load] as Element)
  return { from, to }
}

function tie(system: System, values: Float64Array, { from, to }: Ends, siemens: number): void {
  const { pattern } = system
  const i = unknownAt(system, from)
  const j = unknownAt(system, to)
  // Bridged by 0 Ω it ties nothing.
  if (i === j) return
  if (i >= 0) add(values, pattern.position(i, i), siemens)
  if (j >= 0) add(values, pattern.position(j, j), siemens)
  if (i >= 0 && j >= 0) add(values, pattern.position(i, j), -siemens)
}

/** Adds a current that comes in at `from` and leaves at `to`. */
function inject(system: System, right: Float64Array, { from, to }: Ends, amperes: number): void {
  const i = unknownAt(system, from)
  const j = unknownAt(system, to)
  if (i >= 0) add(right, i, amperes)
  if (j >= 0) add(right, j, -amperes)
}

function add(values: Float64Array, at: number, amount: number): void {
  values[at] = (values[at] as number) + amount
}
