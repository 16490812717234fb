/** What a solved condition is: volts, amperes, temperatures, and each element's share in what each load draws. */
import { factorStamped, HELD_ohm, stampWires, type Work } from './assembly.ts'
import { localFlows } from './local-flows.ts'
import { type Element, isWire, loadEnds, type Network, partOf } from './network.ts'
import type { Settings, Trial } from './regulators.ts'
import type { AlternatorState, SourceState } from './sources-at.ts'
import { solveFactored } from './sparse.ts'
import { loadVolts, type System, unknownAt } from './system.ts'

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

type Settled = Omit<Work, 'sources'> & Pick<Settings, 'sources'>

/** The operating point of a solution: volts by terminal, and the currents of wires inside one node, which follow from what enters it. */
export function pointOf(system: System, work: Settled & Trial & { readonly temperatures: ReadonlyMap<string, number> }): OperatingPoint {
  const { network, closed } = system
  const { voltages, currents } = work
  const voltage_V = new Float64Array(network.terminals.length)
  for (let n = 0; n < voltage_V.length; n++) {
    const at = unknownAt(system, n)
    voltage_V[n] = at === -2 ? Number.NaN : at === -1 ? 0 : (voltages[at] as number)
  }
  const injections = new Float64Array(network.terminals.length)
  const zero: number[] = []
  network.elements.forEach((element, at) => {
    if (closed[at] && isWire(element) && element.ohm === 0) {
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
    closed,
    activeLoads: new Set(system.loads),
    temperature_degC: work.temperatures,
    alternators: [],
    sources: work.sources,
    assumedTerminals: assumed,
    flows_A: flows,
    shareOf: sharesOf(system, work),
  }
}

/** Where nothing consistent is found: no figure is invented. */
export function unsolved(network: Network, closed: Uint8Array, faults: readonly string[]): OperatingPoint {
  return {
    solved: false,
    faults,
    voltage_V: new Float64Array(network.terminals.length).fill(Number.NaN),
    current_A: new Float64Array(network.elements.length).fill(Number.NaN),
    closed,
    activeLoads: new Set(),
    temperature_degC: new Map(),
    alternators: [],
    sources: [],
    assumedTerminals: new Set(),
    flows_A: new Map(),
    shareOf: () => null,
  }
}

/**
 * The sensitivity of one element's current to a current drawn by each load, by one adjoint solution: Y·y = g·(e_from − e_to), and the
 * share of a load is −y across it. None where the element is open or bridged by 0 Ω, null for a merged (zero-ohm) element.
 */
function sharesOf(system: System, work: Settled): OperatingPoint['shareOf'] {
  const { network, closed, root, pattern } = system
  let factored: Float64Array | null = null
  return (at) => {
    const element = network.elements[at] as Element
    if (!closed[at] || (element.ohm !== 0 && root[element.from] === root[element.to])) return () => 0
    if (!isWire(element) || element.ohm === 0) return null
    factored ??= factoredAtPoint(system, work)
    if (!factored) return null
    const right = new Float64Array(pattern.size)
    const siemens = 1 / (work.ohms[at] as number)
    const i = unknownAt(system, element.from)
    const j = unknownAt(system, element.to)
    if (i >= 0) right[i] = siemens
    if (j >= 0) right[j] = -siemens
    const y = solveFactored(pattern, factored, right)
    return (load) => -loadVolts(system, y, load)
  }
}

function factoredAtPoint(system: System, work: Settled): Float64Array | null {
  const values = system.pattern.values()
  // At the operating point a source that gives its limit is the same as one that holds its voltage.
  const sources = work.sources.map((source) =>
    source.mode === 'current' && partOf(system.network, source.component).kind !== 'battery'
      ? { ...source, mode: 'norton' as const, ohm: HELD_ohm }
      : source,
  )
  stampWires(system, { ...work, sources, inputs_A: new Map() }, values, new Float64Array(system.pattern.size))
  return factorStamped(system, values) ? values : null
}
