/** What is not known on a load's way there and back: it bears on every voltage there. */
import type { Circuit, SolvedCondition } from './circuit.ts'

export type WayDoubts = {
  /** resistances not known, in words; they count as none, so the volts lost are at least those given */
  readonly missing: readonly string[]
  /** loads of unknown current that share any of the way, the load itself included */
  readonly atLeastBecause: readonly string[]
}

export function wayDoubts(given: { readonly circuit: Circuit; readonly solved: SolvedCondition; readonly load: string }): WayDoubts {
  const { circuit, solved, load } = given
  const way = solved.hasUnknownLoads ? [load, ...circuit.feedOf(load), ...circuit.returnOf(load)] : []
  return {
    missing: solved.unknownResistances(load).map((key) => `resistance of ${circuit.component(key).name}`),
    atLeastBecause: way.length === 0 ? way : [...new Set(way.flatMap((key) => solved.unknownLoads(key)))],
  }
}
