/**
 * Opening-time windows of new fuse-links and breakers at about 23 °C. A window is a guarantee only at its listed points: never between them.
 * C, E and F: data sheets that cite ISO 8820-3, as transcribed (read for single ratings; their other points are memory).
 * A1 (ISO 8820-4), SF (ISO 8820-5), glass (UL 275, SAE J554) and thermal breakers: memory.
 */

export type WindowRow = { readonly percent: number; readonly shortest_s: number | null; readonly longest_s: number | null }

const row = (percent: number, shortest_s: number | null, longest_s: number | null): WindowRow => ({ percent, shortest_s, longest_s })
/** No link is promised to hold for longer than this at any listed point: 100 h, read at 100 %. */
const HOLDS_s = 360000

const C = [row(100, HOLDS_s, null), row(135, 0.75, 600), row(160, 0.25, 50), row(200, 0.15, 5), row(350, 0.08, 0.5)]
const SF = [row(100, 14400, null), row(135, 120, 1800), row(200, 1, 15), row(350, 0.3, 5), row(600, 0.1, 1)]

const WINDOWS: Readonly<Record<string, readonly WindowRow[]>> = {
  F: [row(100, HOLDS_s, null), row(135, 0.75, 600), row(160, 0.25, 50), row(200, 0.15, 5), row(350, 0.08, 0.5), row(600, 0.03, 0.1)],
  // 200 %: 50 s read, 60 s recalled.
  E: [row(100, HOLDS_s, null), row(135, 60, 1800), row(200, 2, 50), row(350, 0.2, 7), row(600, 0.04, 1)],
  A1: [row(135, 60, 1800), row(200, 4, 60), row(350, 0.2, 7), row(600, 0.04, 1)],
  SF30: SF,
  SF51: SF,
  glass: [row(110, 14400, null), row(135, null, 3600), row(200, null, 10)],
}
const BREAKER: readonly WindowRow[] = [row(100, 3600, null), row(135, null, 3600), row(200, null, 60)]

/** The form's window rows, least multiple first; null where no table was found (single-bolt, class T, fusible link). */
export function windowOf(given: {
  readonly kind: string
  readonly form: string | null
  readonly rated_A: number
}): readonly WindowRow[] | null {
  if (given.kind === 'breaker') return BREAKER
  // Type C, 600 %: 0.15 s read for 35 and 40 A, 0.03 to 0.1 s recalled for smaller ones.
  if (given.form === 'C') return [...C, given.rated_A >= 35 ? row(600, null, 0.15) : row(600, 0.03, 0.1)]
  return WINDOWS[given.form ?? ''] ?? null
}

/**
 * Melting I²t of a form's links as a multiple of the rated current squared, in s: the least of the ratings read
 * (C 40 A: 3300 A²s; E 30 A: 4100 A²s; F 25 A: 1000 A²s). Scaled to other ratings it is typical only.
 */
export const MELTING_s: Readonly<Record<string, number>> = { C: 3300 / 40 ** 2, E: 4100 / 30 ** 2, F: 1000 / 25 ** 2 }

/** Cold resistance of a link as a share of what its drop at rated current gives: C 40 A, 1.44 mΩ of 96 mV/40 A (read; E 40 A 0.75). */
export const COLD_LINK_share = 1.44 / 2.4

/** Breaking capacity by form in A: ISO 8820-3 to -6 scope clauses (read); class T: memory. */
export const BREAKING_A: Readonly<Record<string, number>> = {
  C: 1000,
  E: 1000,
  F: 1000,
  A1: 1000,
  SF30: 2000,
  SF51: 2000,
  'single-bolt': 2000,
  'class-T': 20000,
}

/** Whether the inner device is sure to open first: at each multiple listed for it, its longest time is below the outer's shortest there. */
export function windowsStandApart(given: {
  readonly inner: { readonly rated_A: number; readonly window: readonly WindowRow[] | null }
  readonly outer: { readonly rated_A: number; readonly window: readonly WindowRow[] | null }
}): boolean {
  const { inner, outer } = given
  if (!inner.window || !outer.window) return false
  const promised = inner.window.filter((one) => one.longest_s !== null)
  return (
    promised.length > 0 &&
    promised.every((one) => {
      const share = (one.percent * inner.rated_A) / outer.rated_A
      // Nuisance opening: the shortest time of the lowest listed multiple not exceeded.
      const holds = outer.window?.find((other) => other.percent >= share * (1 - 1e-9))?.shortest_s ?? null
      return holds !== null && holds > (one.longest_s as number)
    })
  )
}
