/** Fuse-link factor by ambient temperature. Read from transcribed makers' data: E a printed table (40 A link), F two points of a curve (25 A link). */

type Row = { readonly ambient_degC: number; readonly factor: number }

const E: readonly Row[] = [
  { ambient_degC: 25, factor: 1 },
  { ambient_degC: 65, factor: 0.85 },
  { ambient_degC: 85, factor: 0.75 },
  { ambient_degC: 110, factor: 0.625 },
  { ambient_degC: 125, factor: 0.55 },
]
const F: readonly Row[] = [
  { ambient_degC: 25, factor: 1 },
  { ambient_degC: 76.25, factor: 0.924 },
  { ambient_degC: 85.41, factor: 0.91 },
]

/** The factor (1 up to 25 °C, straight lines between rows), null beyond the last row. C as F, graded typical; every other form as E. */
export function fuseFactor(form: string | null, ambient_degC: number): number | null {
  const rows = form === 'F' || form === 'C' ? F : E
  if (ambient_degC <= 25) return 1
  const at = rows.findIndex((row) => row.ambient_degC >= ambient_degC)
  if (at < 0) return null
  const [low, high] = [rows[at - 1] as Row, rows[at] as Row]
  return low.factor + ((high.factor - low.factor) * (ambient_degC - low.ambient_degC)) / (high.ambient_degC - low.ambient_degC)
}
