/** Inrush as a multiple of the steady current, by the load's nature, where the part states none. Each is graded typical. */

/** Lamp 10 and motor 6: a switch maker's load guide (read). A DC coil’s current only rises to V/R (physics); a heater has none. Electronics differ too much for one figure. */
const MULTIPLES: Readonly<Record<string, number>> = { lamp: 10, motor: 6, inductive: 1, resistive: 1 }

/** How long it lasts in s: a lamp 0.1, input capacitors 5 ms (memory). Motors differ too much for one figure. */
const DURATIONS_s: Readonly<Record<string, number>> = { lamp: 0.1, electronic: 0.005, inductive: 0, resistive: 0 }

export function inrushMultiple(nature: string | null): number | null {
  return MULTIPLES[nature ?? ''] ?? null
}

export function inrushDuration_s(nature: string | null): number | null {
  return DURATIONS_s[nature ?? ''] ?? null
}

/** The most that a load may draw whose inrush is not known: input capacitors, 20 to 40 times (memory). */
export const INRUSH_MOST = 40
