/** Figures as the report's sentences print them. */

/** Three significant figures or one decimal, with the unit: "34.1 A", "0.42 V", "71 %". */
export function figure(value: number, unit: string): string {
  const size = Math.abs(value)
  const digits = unit === '%' ? 0 : size >= 100 ? 0 : size >= 10 ? 1 : 2
  const text = value.toFixed(digits)
  return `${digits > 0 ? text.replace(/\.?0+$/, '') : text} ${unit}`
}
