/** What a load draws for the moment after it is switched on. */
import type { Circuit, SolvedCondition } from './circuit.ts'
import { inrushDuration_s, inrushMultiple } from './tables/inrush-multiples.ts'
import type { Grade } from './vehicle.ts'

export type Inrush = {
  readonly load: string
  /** A, steady current included; null where neither the part nor its nature gives it */
  readonly current_A: number | null
  /** s; null where neither gives it */
  readonly duration_s: number | null
  readonly grade: Grade
}

/** Inrush of a load in one condition: as stated, else its steady current × the multiple of its nature (typical). */
export function inrushOf(given: { readonly circuit: Circuit; readonly solved: SolvedCondition; readonly load: string }): Inrush {
  const { circuit, solved, load } = given
  const steady_A = Math.abs(solved.current_A(load) ?? 0)
  // A relay's coil is a coil.
  const stated = circuit.kindOf(load) === 'relay' ? 'inductive' : circuit.rawRating(load, 'nature')
  const nature = typeof stated === 'string' ? stated : null
  const [peak, lasts] = [circuit.rating(load, 'inrush_A'), circuit.rating(load, 'inrush_s')]
  const multiple = inrushMultiple(nature)
  const unknownSteady = solved.unknownLoads(load).includes(load)
  return {
    load,
    current_A: peak ? Math.max(peak.value, steady_A) : multiple === null || unknownSteady ? null : steady_A * multiple,
    duration_s: lasts?.value ?? inrushDuration_s(nature),
    grade: peak?.grade ?? 'typical',
  }
}
