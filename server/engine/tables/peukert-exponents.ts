/** Peukert exponents by chemistry, the upper end of each range: it promises least. One general page and memory. */
import type { Known } from '../circuit.ts'
import type { Rating } from '../vehicle.ts'

const EXPONENTS: Readonly<Record<string, number>> = { flooded: 1.3, gel: 1.2, agm: 1.15, lifepo4: 1.05, lfp: 1.05 }

/** The exponent that stands in where the part states none; of an unknown chemistry, the worst. */
export function peukertFor(chemistry: Rating | null): Known {
  const stated = typeof chemistry === 'string' ? chemistry.toLowerCase() : ''
  const named = Object.keys(EXPONENTS).find((one) => stated.includes(one))
  return { value: EXPONENTS[named ?? 'flooded'] as number, grade: 'typical', typical: 'Peukert exponent of its chemistry' }
}
