/** What a load draws at a voltage, from its ratings; or that it is not known. */
import type { Part } from './vehicle.ts'

/** `value` is Ω, A or W by the behaviour; `half_V` is where a power load stops being one. */
export type LoadLaw = {
  readonly behaviour: 'resistive' | 'current' | 'power'
  readonly value: number
  readonly half_V: number
  readonly known: boolean
}

/** A drawn at `volts`, and dI/dV there. */
export type LoadDraw = { readonly current_A: number; readonly slope_S: number; readonly volts: number }

const UNKNOWN: LoadLaw = { behaviour: 'current', value: 0, half_V: 0, known: false }
const NOTHING: LoadLaw = { behaviour: 'current', value: 0, half_V: 0, known: true }

/**
 * The law of a load part on a supply of `nominal_V`. resistive: R = rated_V/current_A or rated_V²/power_W; current: I = current_A or
 * power_W/rated_V; power: P/V down to half the rated voltage. A converter's input is set by its output, not here.
 */
export function lawOf(part: Part, nominal_V: number): LoadLaw {
  const [current_A, power_W, rated_V] = [figureOf(part, 'current_A'), figureOf(part, 'power_W'), figureOf(part, 'rated_V')]
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

function figureOf(part: Part, name: string): number | null {
  const stated = part.ratings[name]
  return typeof stated === 'number' ? stated : null
}

/** What a law draws at a voltage V, and its slope. resistive: V/R; current: I; power: P/V down to h, then V·P/h². Nothing where not known. */
export function drawAt(law: LoadLaw | undefined, volts: number): LoadDraw {
  if (!law?.known || law.value === 0) return { current_A: 0, slope_S: 0, volts }
  if (law.behaviour === 'resistive') return { current_A: volts / law.value, slope_S: 1 / law.value, volts }
  if (law.behaviour === 'current') return { current_A: law.value, slope_S: 0, volts }
  const { value: P, half_V: h } = law
  if (volts >= h) return { current_A: P / volts, slope_S: -P / (volts * volts), volts }
  return { current_A: (volts * P) / (h * h), slope_S: P / (h * h), volts }
}
