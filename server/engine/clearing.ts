/** How soon the devices ahead of a conductor are sure to end a bolted short at its far end, and how much they let through of one along it. */
import type { Circuit } from './circuit.ts'
import { guardsOf } from './device-guard.ts'
import type { Fault } from './fault-currents.ts'
import { windowOf, type WindowRow } from './tables/fuse-windows.ts'

export type Clearing = {
  readonly source: string
  readonly fault: Fault
  /** A in the conductor itself while it stands */
  readonly own_A: number
  /** the device that is sure to open first, with the row of its window that says so; null where none is sure to open */
  readonly opens: Opening | null
  /** A through that device in a short at the conductor's near end, no less than in one at its far end; 0 where none opens */
  readonly near_A: number
  /** the device nearest to opening where none is sure to */
  readonly nearest: { readonly device: string; readonly percent: number } | null
  /** what is not known of the devices; nothing where one is sure to open in time */
  readonly missing: readonly string[]
}

export type Opening = {
  readonly device: string
  /** A through it, and that as a percentage of its rating */
  readonly current_A: number
  readonly percent: number
  readonly rated_A: number
  readonly row: WindowRow
  readonly window: readonly WindowRow[]
  readonly longest_s: number
  /** no row of its form promises to open within the limit: by its nature, not by its size */
  readonly slowByNature: boolean
}

/** What a device lets through of the short that heats most: A and s where it does, and A²s. */
export type LetThrough = { readonly current_A: number; readonly longest_s: number; readonly heat_A2s: number }

/** IEC 60364-4-43: the adiabatic law, and so the withstand of a conductor, holds up to 5 s. */
export const CLEARING_s = 5

/**
 * One answer per battery that feeds the conductor through devices, every way of it: where one goes round them, how far it runs unfused is
 * what counts. Worked out once for all rules that ask.
 */
export function clearingsOf(circuit: Circuit, conductor: string): readonly Clearing[] {
  return circuit.keep('clearings', conductor, () => clearingsBySource(circuit, conductor))
}

function clearingsBySource(circuit: Circuit, conductor: string): readonly Clearing[] {
  // Near the post of one battery its unfused length is what counts.
  if (guardsOf(circuit, conductor).some((guard) => guard.kind === 'length')) return []
  return circuit
    .sourcesOf(conductor)
    .filter((source) => circuit.kindOf(source) === 'battery' && circuit.unfusedRun({ source, conductor }) === null)
    .flatMap((source) => {
      const fault = circuit.faultAt({ source, conductor })
      return fault ? [clearingOf({ circuit, conductor, source, fault })] : []
    })
}

function clearingOf(given: {
  readonly circuit: Circuit
  readonly conductor: string
  readonly source: string
  readonly fault: Fault
}): Clearing {
  const { circuit, conductor, source, fault } = given
  const alone = circuit.devicesAhead(source, conductor)
  const shared = circuit.devicesBetween(source, conductor).filter((device) => !alone.includes(device))
  const single = alone.map((device) => trialOf(circuit, { device, current_A: fault.current_A }))
  const several = shared.map((device) => trialOf(circuit, { device, current_A: fault.through_A(device) }))
  const trials = [...single, ...several]
  const missing = trials.flatMap((trial) => trial.missing)
  // Of devices in series the first to open ends it; of those that share the current, only the last does, with more to carry once the others are gone.
  const sure = several.flatMap((trial) => trial.opening ?? [])
  const together = sure.length === several.length ? slowest(sure) : null
  if (sure.length > 0 && together === null && missing.length === 0) missing.push('which of the devices side by side opens last')
  const opens = [...single.map((trial) => trial.opening), together].reduce(sooner, null)
  const nearest = trials.reduce<Clearing['nearest']>((a, { short }) => (short && (!a || short.percent > a.percent) ? short : a), null)
  const own_A = circuit.isPlainFeed({ source, component: conductor }) ? fault.current_A : (fault.through_A(conductor) ?? fault.current_A)
  const near_A = opens ? Math.max(opens.current_A, nearThrough_A(fault, { device: opens.device, alone })) : 0
  return { source, fault, own_A, opens, near_A, nearest, missing: opens && opens.longest_s <= CLEARING_s ? [] : missing }
}

/** Where a zero resistance hides the division all of it may pass. */
function nearThrough_A(fault: Fault, given: { readonly device: string; readonly alone: readonly string[] }): number {
  const { device, alone } = given
  return alone.includes(device) ? fault.near_A : (fault.through_A(device, 'near') ?? fault.near_A)
}

type Trial = {
  readonly opening: Opening | null
  /** how far it falls short of the least multiple that promises to open */
  readonly short: Clearing['nearest']
  readonly missing: readonly string[]
}

/** What one device does with that current; `current_A` null: not known. */
function trialOf(circuit: Circuit, given: { readonly device: string; readonly current_A: number | null }): Trial {
  const { device, current_A } = given
  const { name } = circuit.component(device)
  const rated = circuit.rating(device, 'rated_A')
  const window = rated && windowOfDevice(circuit, { device, rated_A: rated.value })
  if (!rated || !window || current_A === null) {
    const missing = [
      ...(rated ? (window ? [] : [`opening times of ${name}`]) : [`rated current of ${name}`]),
      ...(current_A === null ? [`how a short divides over ${name}`] : []),
    ]
    return { opening: null, short: null, missing }
  }
  const percent = (current_A / rated.value) * 100
  // The longest time of the highest listed multiple reached: a window is no curve.
  const row = window.findLast((one) => one.longest_s !== null && one.percent <= percent * (1 + 1e-9))
  if (!row) return { opening: null, short: { device, percent }, missing: [] }
  const slowByNature = window.every((one) => one.longest_s === null || one.longest_s > CLEARING_s)
  const opening = { device, current_A, percent, rated_A: rated.value, row, window, longest_s: row.longest_s as number, slowByNature }
  return { opening, short: null, missing: [] }
}

/** The opening window of a fitted device; null where none is known for its form. */
export function windowOfDevice(
  circuit: Circuit,
  given: { readonly device: string; readonly rated_A: number },
): readonly WindowRow[] | null {
  const { device, rated_A } = given
  const form = circuit.rawRating(device, 'form')
  return windowOf({ kind: circuit.kindOf(device), form: typeof form === 'string' ? form : null, rated_A })
}

/** Of two in series the one sure to open first; of two alike the one nearer the short. */
function sooner(a: Opening | null, b: Opening | null): Opening | null {
  return a && (!b || a.longest_s < b.longest_s) ? a : b
}

function slowest(openings: readonly Opening[]): Opening | null {
  return openings.reduce<Opening | null>((a, b) => (a && a.longest_s >= b.longest_s ? a : b), null)
}

/**
 * The most that the device lets through of a short anywhere between the two ends. Within a row of its window I²t grows with the current, so
 * each row reached counts at its upper end: just under the next multiple, or the near end's. From 600 % on the link melts with no more than
 * it takes there.
 */
export function mostLetThrough(opening: Opening, near_A: number): LetThrough {
  const { window, row, rated_A } = opening
  let most: LetThrough = { current_A: 0, longest_s: 0, heat_A2s: 0 }
  let upper_A = near_A
  for (let n = window.length - 1; n >= 0; n--) {
    const { percent, longest_s } = window[n] as WindowRow
    if (longest_s === null) continue
    const lower_A = (percent / 100) * rated_A
    // The row that the far end's short reaches is reached, whatever rounding says.
    if (lower_A <= near_A || percent === row.percent) {
      const current_A = percent >= 600 ? Math.min(upper_A, 6 * rated_A) : upper_A
      const heat_A2s = current_A * current_A * longest_s
      if (heat_A2s > most.heat_A2s) most = { current_A, longest_s, heat_A2s }
      upper_A = Math.min(upper_A, lower_A)
    }
    if (percent === row.percent) break
  }
  return most
}
