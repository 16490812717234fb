/** What a load draws for the moment after it is switched on. */
import type { Circuit, SolvedCondition } from './circuit.ts'
import { INRUSH_MOST, inrushDuration_s, inrushMultiple } from './tables/inrush-multiples.ts'
import type { Grade } from './vehicle.ts'

export type Inrush = {
  readonly load: string
  /** A, steady current included; null where neither the part nor its nature gives it */
  readonly current_A: number | null
  /** A that it stays within, whatever it is; null where its steady current is not known either */
  readonly most_A: number | null
  /** s; null where neither gives it */
  readonly duration_s: number | null
  readonly grade: Grade
}

/** Inrush of a load in one condition: as stated, else its steady current × the multiple of its nature (typical). */
export function inrushOf(given: { readonly circuit: Circuit; readonly solved: SolvedCondition; readonly load: string }): Inrush {
  const { circuit, solved, load } = given
  const steady_A = steadyOf_A(given)
  // A relay as a load is its coil; the inrush it states is what its contact makes.
  const isCoil = circuit.kindOf(load) === 'relay'
  const stated = isCoil ? 'inductive' : circuit.rawRating(load, 'nature')
  const nature = typeof stated === 'string' ? stated : null
  const [peak, lasts] = isCoil ? [null, null] : [circuit.rating(load, 'inrush_A'), circuit.rating(load, 'inrush_s')]
  const duration_s = lasts?.value ?? inrushDuration_s(nature)
  if (peak)
    return { load, current_A: Math.max(peak.value, steady_A), most_A: Math.max(peak.value, steady_A), duration_s, grade: peak.grade }
  if (solved.unknownLoads(load).includes(load)) return { load, current_A: null, most_A: null, duration_s, grade: 'assumed' }
  // The current recorded for a starter is what it draws while it cranks.
  if (circuit.rawRating(load, 'starter') === true) return { load, current_A: steady_A, most_A: steady_A, duration_s: 0, grade: 'typical' }
  const multiple = inrushMultiple(nature)
  const current_A = multiple === null ? null : steady_A * multiple
  return { load, current_A, most_A: current_A ?? steady_A * INRUSH_MOST, duration_s, grade: 'typical' }
}

/** A that a load draws in one condition; of a relay, its coil. */
export function steadyOf_A(given: { readonly circuit: Circuit; readonly solved: SolvedCondition; readonly load: string }): number {
  const { circuit, solved, load } = given
  if (circuit.kindOf(load) !== 'relay') return Math.abs(solved.current_A(load) ?? 0)
  const [plus, minus] = [solved.voltage_V(`${load}:86`), solved.voltage_V(`${load}:85`)]
  const coil = circuit.rating(load, 'coil_ohm')
  return plus === null || minus === null || !coil || !solved.works(load) ? 0 : Math.abs(plus - minus) / coil.value
}
