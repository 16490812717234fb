/** What a load draws at a voltage, from its ratings; or that it is not known. */
import type { LoadLaw } from './solve.ts'
import type { Part } from './vehicle.ts'

const UNKNOWN: LoadLaw = { behaviour: 'current', value: 0, half_V: 0, known: false }
const NOTHING: LoadLaw = { behaviour: 'current', value: 0, half_V: 0, known: true }

/**
 * The law of a load part on a supply of `nominal_V`. resistive: R = rated_V/current_A or rated_V²/power_W; current: I = current_A or
 * power_W/rated_V; power: P/V down to half the rated voltage. A converter's input is set by its output, not here.
 */
export function lawOf(part: Part, nominal_V: number): LoadLaw {
  const number = (name: string) => (typeof part.ratings[name] === 'number' ? (part.ratings[name] as number) : null)
  const [current_A, power_W, rated_V] = [number('current_A'), number('power_W'), number('rated_V')]
  const behaviour = part.ratings.behaviour ?? (power_W !== null && current_A === null ? 'power' : 'current')
  if (part.kind === 'converter' || current_A === 0 || power_W === 0) return NOTHING
  if (behaviour === 'resistive') {
    if (rated_V === null) return UNKNOWN
    if (current_A !== null) return { behaviour, value: rated_V / current_A, half_V: 0, known: true }
    return power_W === null ? UNKNOWN : { behaviour, value: (rated_V * rated_V) / power_W, half_V: 0, known: true }
  }
  if (behaviour === 'power') {
    const watts = power_W ?? (current_A !== null && rated_V !== null ? current_A * rated_V : null)
    return watts === null ? UNKNOWN : { behaviour, value: watts, half_V: (rated_V ?? nominal_V) / 2, known: true }
  }
  const amperes = current_A ?? (power_W !== null && rated_V !== null ? power_W / rated_V : null)
  return amperes === null ? UNKNOWN : { behaviour: 'current', value: amperes, half_V: 0, known: true }
}
