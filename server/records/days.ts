/** Reckoning with calendar days as text: no instant is made, so no time zone can move a day. */

const MONTHS = ['January', 'February', 'March', 'April', 'May', 'June', 'July', 'August', 'September', 'October', 'November', 'December']

/** "3 May 2024" for 2024-05-03: as pages word it (`server/web/format.ts`, which records do not reach). */
export function dayWords(day: string): string {
  const [year, month, date] = day.split('-')
  return `${Number(date)} ${MONTHS[Number(month) - 1] ?? month} ${year}`
}

/** Days since 1 March of the year 0, counted on the calendar. */
export function dayNumber(day: string): number {
  const [year, month, date] = day.split('-').map(Number) as [number, number, number]
  const y = month > 2 ? year : year - 1
  const m = (month + 9) % 12
  return 365 * y + Math.floor(y / 4) - Math.floor(y / 100) + Math.floor(y / 400) + Math.floor((m * 306 + 5) / 10) + date - 1
}

export function daysFrom(given: { readonly from: string; readonly to: string }): number {
  return dayNumber(given.to) - dayNumber(given.from)
}

export function plusDays(day: string, count: number): string {
  const wanted = dayNumber(day) + count
  // The year that holds the wanted day is this one or the one before, counted from March.
  let y = Math.floor((wanted + 1) / 365.2425)
  const startOf = (year: number): number => 365 * year + Math.floor(year / 4) - Math.floor(year / 100) + Math.floor(year / 400)
  while (startOf(y) > wanted) y -= 1
  while (startOf(y + 1) <= wanted) y += 1
  const left = wanted - startOf(y)
  const m = Math.floor((5 * left + 2) / 153)
  const date = left - Math.floor((m * 306 + 5) / 10) + 1
  return written({ year: m < 10 ? y : y + 1, month: m < 10 ? m + 3 : m - 9, date })
}

/** The same date so many months on; the last of the month where there is no such date. */
export function plusMonths(day: string, count: number): string {
  const [year, month, date] = day.split('-').map(Number) as [number, number, number]
  const months = year * 12 + (month - 1) + count
  const then = { year: Math.floor(months / 12), month: (((months % 12) + 12) % 12) + 1 }
  return written({ ...then, date: Math.min(date, lengthOf(then)) })
}

function lengthOf({ year, month }: { readonly year: number; readonly month: number }): number {
  const leap = (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0
  return [31, leap ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31][month - 1] as number
}

function written(given: { readonly year: number; readonly month: number; readonly date: number }): string {
  const two = (value: number): string => String(value).padStart(2, '0')
  return `${String(given.year).padStart(4, '0')}-${two(given.month)}-${two(given.date)}`
}
