/** The day before, by the calendar alone: no instant, so no time zone can move it. */
export function dayBefore(day: string): string {
  const [year, month, date] = day.split('-').map(Number) as [number, number, number]
  if (date > 1) return written({ year, month, date: date - 1 })
  if (month > 1) return written({ year, month: month - 1, date: lengthOf({ year, month: month - 1 }) })
  return written({ year: year - 1, month: 12, date: 31 })
}

function lengthOf(given: { readonly year: number; readonly month: number }): number {
  const { year, month } = given
  if (month === 2) return (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0 ? 29 : 28
  return [4, 6, 9, 11].includes(month) ? 30 : 31
}

function written(given: { readonly year: number; readonly month: number; readonly date: number }): string {
  const two = (value: number) => String(value).padStart(2, '0')
  return `${String(given.year).padStart(4, '0')}-${two(given.month)}-${two(given.date)}`
}
