/** Figures as the report's sentences print them. */

/** Three significant figures or one decimal, with the unit, thousands set apart: "34.1 A", "0.42 V", "71 %", "1 150 000 A²s". */
export function figure(value: number, unit: string): string {
  const size = Math.abs(value)
  if (size >= 10_000) return `${grouped(Number(value.toPrecision(3)))} ${unit}`
  const per = unit === '%' || size >= 100 ? 1 : size >= 10 ? 10 : 100
  return `${Math.round(value * per) / per} ${unit}`
}

function grouped(value: number): string {
  return value.toFixed(0).replace(/\B(?=(\d{3})+$)/g, ' ')
}
