/** Which sources stand ready in a condition, which of them are tied together, and what cannot be. */
import { HELD_ohm, type Source } from './assembly.ts'
import { isFed, mergedNodes, netsOf } from './nets.ts'
import { type Element, type Network, partOf, ratingOf } from './network.ts'
import type { Condition } from './vehicle.ts'

/** A source and what the solution makes of it. `emf_V` is raised, where it senses elsewhere, until the sensed point stands at `setPoint_V`. */
export type SourceState = Omit<Source, 'emf_V' | 'gives_A' | 'mode'> & {
  readonly component: string
  /** V; a battery's open-circuit voltage */
  readonly setPoint_V: number
  emf_V: number
  /** A, given out of the positive terminal */
  gives_A: number
  mode: Source['mode']
}

/** An alternator that turns: what it gives, what it would give without a limit, and its limit at this speed; null where not known. */
export type AlternatorState = {
  readonly component: string
  regime: 'held' | 'floating' | 'discharging'
  gives_A: number
  wanted_A: number
  limit_A: number | null
}

/** The sources that stand ready: not cut off, of a known voltage; alternators that turn, chargers that are on, converters that are fed. */
export function sourcesAt(network: Network, given: { readonly condition: Condition; readonly closed: Uint8Array }): SourceState[] {
  const { condition } = given
  const found: SourceState[] = []
  network.elements.forEach((element, at) => {
    if (element.kind !== 'source' || element.component === null || condition.open?.includes(element.component)) return
    const source = sourceOf(network, { component: element.component, element: at, condition })
    if (source) found.push(source)
  })
  return found.filter(
    (source) => partOf(network, source.component).kind !== 'converter' || isConverterFed(network, given.closed, source, found),
  )
}

/** The alternators among the sources, each with its limit at the engine's speed; null where that is not known. */
export function alternatorsAmong(network: Network, condition: Condition, ready: readonly SourceState[]): AlternatorState[] {
  return ready
    .filter((source) => partOf(network, source.component).kind === 'alternator')
    .map(({ component }) => {
      const limit = partOf(network, component).ratings[condition.engine === 'idle' ? 'idleOutput_A' : 'output_A']
      return { component, regime: 'held', gives_A: 0, wanted_A: 0, limit_A: typeof limit === 'number' ? limit : null }
    })
}

/** The batteries whose positive end is on an alternator's net. */
export function batteriesCharged(network: Network, closed: Uint8Array, ready: readonly SourceState[]): readonly SourceState[] {
  const nets = netsOf(network, closed)
  const plus = (source: SourceState) => nets.find((network.elements[source.element] as Element).from)
  const isKind = (source: SourceState, kind: string) => partOf(network, source.component).kind === kind
  const alternators = new Set(ready.filter((source) => isKind(source, 'alternator')).map(plus))
  return ready.filter((source) => isKind(source, 'battery') && alternators.has(plus(source)))
}

/** What is wrong where two batteries stand in series, or two ideal ones are tied straight together at different voltages: no answer is given for these; else null. */
export function mergedSources(network: Network, closed: Uint8Array, sources: readonly SourceState[]): string | null {
  const merged = mergedNodes(network, closed)
  const nameOf = (source: SourceState) => network.components.get(source.component)?.name ?? source.component
  const nets = netsOf(network, closed)
  const batteries = sources.filter((source) => partOf(network, source.component).kind === 'battery')
  for (const one of batteries) {
    const plus = nets.find((network.elements[one.element] as Element).from)
    const other = batteries.find((source) => source !== one && nets.find((network.elements[source.element] as Element).to) === plus)
    if (other)
      return `${nameOf(one)} and ${nameOf(other)} stand in series, which is not solved here: record the string as one battery of their voltages together.`
  }
  const ideal = sources.filter((source) => source.ohm <= HELD_ohm && partOf(network, source.component).kind === 'battery')
  for (const [n, one] of ideal.entries()) {
    for (const other of ideal.slice(n + 1)) {
      const [a, b] = [network.elements[one.element] as Element, network.elements[other.element] as Element]
      if (merged.find(a.from) !== merged.find(b.from) || merged.find(a.to) !== merged.find(b.to) || one.emf_V === other.emf_V) continue
      return `${nameOf(one)} and ${nameOf(other)} are tied straight together at different voltages (${one.emf_V} V and ${other.emf_V} V) and neither states an internal resistance.`
    }
  }
  return null
}

function sourceOf(
  network: Network,
  given: { readonly component: string; readonly element: number; readonly condition: Condition },
): SourceState | null {
  const { component, element, condition } = given
  const part = partOf(network, component)
  const nominal_V = typeof part.ratings.nominal_V === 'number' ? part.ratings.nominal_V : network.doc.vehicle.systemVoltage_V
  const rating = (name: string) => ratingOf({ part, name, nominal_V })?.value ?? null
  const holds = (volts: number | null, ohm = HELD_ohm): SourceState | null =>
    volts === null ? null : { component, element, setPoint_V: volts, emf_V: volts, ohm, gives_A: 0, mode: 'norton' }
  switch (part.kind) {
    case 'battery':
      return holds(rating('openCircuit_V'), Math.max(rating('internalResistance_ohm') ?? 0, HELD_ohm))
    case 'alternator':
      return condition.engine === 'running' || condition.engine === 'idle' ? holds(rating('setPoint_V')) : null
    case 'converter':
      return holds(rating('output_V'))
    case 'charger': {
      const gives_A = condition.on?.includes(component) ? rating('output_A') : null
      const volts = rating('output_V') ?? 0
      return gives_A === null ? null : { component, element, setPoint_V: volts, emf_V: volts, ohm: HELD_ohm, gives_A, mode: 'current' }
    }
    default:
      return null
  }
}

function isConverterFed(network: Network, closed: Uint8Array, converter: SourceState, sources: readonly SourceState[]): boolean {
  const input = (network.elementsOf.get(converter.component) ?? [])
    .map((at) => network.elements[at] as Element)
    .find((element) => element.kind === 'load') as Element
  const others = sources.filter((source) => source !== converter)
  return isFed(network, closed, others, [input.from, input.to])
}
