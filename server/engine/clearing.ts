/** How soon the devices ahead of a conductor are sure to end a bolted short at its far end. */
import type { Circuit } from './circuit.ts'
import type { Fault } from './fault-currents.ts'
import { windowOf, type WindowRow } from './tables/fuse-windows.ts'

export type Clearing = {
  readonly source: string
  readonly fault: Fault
  /** A in the conductor itself while it stands */
  readonly own_A: number
  /** the device that is sure to open first, with the row of its window that says so; null where none is sure to open */
  readonly opens: Opening | null
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
  readonly longest_s: number
  /** no row of its form promises to open within the limit: by its nature, not by its size */
  readonly slowByNature: boolean
}

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
  const missing: string[] = []
  let nearest: Clearing['nearest'] = null
  const openingOf = (device: string, current_A: number | null): Opening | null => {
    const { name } = circuit.component(device)
    const rated = circuit.rating(device, 'rated_A')
    const form = circuit.rawRating(device, 'form')
    const window = rated && windowOf({ kind: circuit.kindOf(device), form: typeof form === 'string' ? form : null, rated_A: rated.value })
    if (!rated) missing.push(`rated current of ${name}`)
    else if (!window) missing.push(`opening times of ${name}`)
    if (current_A === null) missing.push(`how a short divides over ${name}`)
    if (!rated || !window || current_A === null) return null
    const percent = (current_A / rated.value) * 100
    // The longest time of the highest listed multiple reached: a window is no curve.
    const row = window.findLast((one) => one.longest_s !== null && one.percent <= percent * (1 + 1e-9))
    if (!row) {
      if (!nearest || percent > nearest.percent) nearest = { device, percent }
      return null
    }
    const slowByNature = window.every((one) => one.longest_s === null || one.longest_s > CLEARING_s)
    return { device, current_A, percent, rated_A: rated.value, row, longest_s: row.longest_s as number, slowByNature }
  }
  const single = alone.map((device) => openingOf(device, fault.current_A))
  const several = shared.map((device) => openingOf(device, fault.through_A(device)))
  // Of devices in series the first to open ends it; of those that share the current, only the last does, with more to carry once the others are gone.
  const sure = several.filter((one) => one !== null)
  const together = sure.length === several.length ? slowest(sure) : null
  if (sure.length > 0 && together === null && missing.length === 0) missing.push('which of the devices side by side opens last')
  const opens = [...single, together].reduce<Opening | null>((a, b) => (a && (!b || a.longest_s <= b.longest_s) ? a : b), null)
  const own_A = circuit.isPlainFeed({ source, component: conductor }) ? fault.current_A : (fault.through_A(conductor) ?? fault.current_A)
  return { source, fault, own_A, opens, nearest, missing: opens && opens.longest_s <= CLEARING_s ? [] : missing }
}

function slowest(openings: readonly Opening[]): Opening | null {
  return openings.reduce<Opening | null>((a, b) => (a && a.longest_s >= b.longest_s ? a : b), null)
}
