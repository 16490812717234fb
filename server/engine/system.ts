/** Which unknown of the matrix is which terminal: merged nodes, islands, references, and the order of elimination. */
import { isFed, mergedNodes } from './nets.ts'
import { type Element, isWire, loadEnds, type Network } from './network.ts'
import { Pattern } from './sparse.ts'
import { Union } from './union.ts'

export type System = {
  readonly network: Network
  /** 1 by element where it may carry; every contact that is open is 0 */
  readonly closed: Uint8Array
  /** the terminal that stands for each terminal's node */
  readonly root: Int32Array
  /** unknown's number by root; −1 for a reference, −2 for unfed */
  readonly unknown: Int32Array
  readonly pattern: Pattern
  /** the elements that draw and are fed */
  readonly loads: readonly number[]
}

/** Two terminals, by number. */
export type Ends = { readonly from: number; readonly to: number }

/** Merges nodes, finds islands and references, and orders the elimination. With nothing in `drawing` it is the bare network. */
export function systemOf(
  network: Network,
  given: { readonly closed: Uint8Array; readonly drawing: ReadonlySet<number> },
  sources: readonly { readonly element: number }[],
): System {
  const { closed, drawing } = given
  const merged = mergedNodes(network, closed)
  const root = new Int32Array(network.terminals.length)
  for (let n = 0; n < root.length; n++) root[n] = merged.find(n)
  const loads: number[] = []
  network.elements.forEach((element, at) => {
    if (
      (element.kind === 'load' || element.kind === 'coil') &&
      drawing.has(at) &&
      isFed(network, closed, sources, loadEnds(network, element))
    )
      loads.push(at)
  })
  const ends = sources.map((source) => network.elements[source.element] as Element)
  const islands = new Union(network.terminals.length)
  const pairs: [number, number][] = []
  const tie = (from: number, to: number) => {
    const [a, b] = [root[from] as number, root[to] as number]
    islands.join(a, b)
    pairs.push([a, b])
  }
  network.elements.forEach((element, at) => {
    if (closed[at] && (isWire(element) || element.kind === 'diode') && root[element.from] !== root[element.to])
      tie(element.from, element.to)
  })
  for (const at of loads) tie(...loadEnds(network, network.elements[at] as Element))
  for (const element of ends) tie(element.from, element.to)
  const { unknown, count } = unknownsOf(network, { root, islands, ends })
  const known: [number, number][] = []
  for (const [a, b] of pairs) {
    const [i, j] = [unknown[a] as number, unknown[b] as number]
    if (i >= 0 && j >= 0) known.push([i, j])
  }
  return { network, closed, root, unknown, pattern: new Pattern(count, known), loads }
}

/** The number of a terminal's unknown; −1 for a reference, −2 for unfed. */
export function unknownAt(system: System, terminal: number): number {
  return system.unknown[system.root[terminal] as number] as number
}

/** V at a terminal in a solution by unknown; a reference stands at 0. */
export function voltsAt(system: System, voltages: Float64Array, terminal: number): number {
  const at = unknownAt(system, terminal)
  return at >= 0 ? (voltages[at] as number) : 0
}

/** V across an element, its `from` above its `to`. */
export function voltsAcross(system: System, voltages: Float64Array, element: Ends): number {
  return voltsAt(system, voltages, element.from) - voltsAt(system, voltages, element.to)
}

/** V across a load, between the terminals it draws from and returns to. */
export function loadVolts(system: System, voltages: Float64Array, load: number): number {
  const [from, to] = loadEnds(system.network, system.network.elements[load] as Element)
  return voltsAt(system, voltages, from) - voltsAt(system, voltages, to)
}

/** Numbers the nodes of each island that has a source, but for one reference in each: the network's own, else a source's negative end. */
function unknownsOf(
  network: Network,
  given: { readonly root: Int32Array; readonly islands: Union; readonly ends: readonly Element[] },
): { readonly unknown: Int32Array; readonly count: number } {
  const { root, islands, ends } = given
  const sourced = new Set(ends.map((element) => islands.find(root[element.from] as number)))
  const zero = new Set<number>()
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
  return { unknown, count }
}
