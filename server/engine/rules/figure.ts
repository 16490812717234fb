/** Figures as the report's sentences print them. */

/** Three significant figures or one decimal, with the unit, thousands set apart: "34.1 A", "0.42 V", "71 %", "1 150 000 A²s". */
export function figure(value: number, unit: string): string {
  const size = Math.abs(value)
  const digits = unit === '%' ? 0 : size >= 100 ? 0 : size >= 10 ? 1 : 2
  const text = size >= 10_000 ? grouped(Number(value.toPrecision(3))) : value.toFixed(digits)
  return `${digits > 0 ? text.replace(/\.?0+$/, '') : text} ${unit}`
}

function grouped(value: number): string {
  return value.toFixed(0).replace(/\B(?=(\d{3})+$)/g, ' ')
}
