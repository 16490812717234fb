import { unitWord } from '../../web/format.ts'

/** A figure as it went into a formula: five significant digits, so that a sum done by hand comes out the same. */
export function closeFigure(value: number | string | null, unit: string): string {
  if (typeof value === 'string') return value
  if (value === null || !Number.isFinite(value)) return 'not known'
  // Less than a millionth is noise of the solution; no figure here is that small.
  const rounded = Math.abs(value) < 1e-6 ? 0 : Number(value.toPrecision(5))
  return unit === '' ? String(rounded) : `${rounded} ${unitWord(unit)}`
}
