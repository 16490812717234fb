/** How figures, dates and money read. */

const UNITS: Readonly<Record<string, string>> = { degC: '°C', ohm: 'Ω', mm2: 'mm²', ohmPerM: 'Ω/m', LPerH: 'L/h' }
const MONTHS = ['January', 'February', 'March', 'April', 'May', 'June', 'July', 'August', 'September', 'October', 'November', 'December']

/** "26.1 A", "0.42 V", "71 %". */
export function figure(value: number, unit: string): string {
  const size = Math.abs(value)
  const digits = unit === '%' ? 0 : size >= 100 ? 0 : size >= 10 ? 1 : size >= 0.1 || size === 0 ? 2 : 4
  const text = value.toFixed(digits)
  return `${digits > 0 ? text.replace(/\.?0+$/, '') : text}${unit === '' ? '' : ` ${UNITS[unit] ?? unit}`}`
}

export function figureOr(value: number | null, unit: string): string {
  return value === null ? 'not known' : figure(value, unit)
}

/** A figure as somebody read it off a meter, no digit dropped: 12.61 V at rest is another battery than 12.55 V. */
export function asRead(value: number, unit: string): string {
  return `${value} ${UNITS[unit] ?? unit}`
}

/** "3 May 2024" for 2024-05-03. */
export function dateWords(date: string): string {
  const [year, month, day] = date.split('-')
  return `${Number(day)} ${MONTHS[Number(month) - 1] ?? month} ${year}`
}

/** "223 400 km". */
export function kilometres(value: number): string {
  return `${value.toLocaleString('en-GB').replaceAll(',', ' ')} km`
}

export function money(minor: number): string {
  return `${Math.floor(Math.abs(minor) / 100)}.${String(Math.abs(minor) % 100).padStart(2, '0')}`
}

export function unitWord(unit: string): string {
  return UNITS[unit] ?? unit
}

/** "3 May 2024, 14:05" as a clock on the wall of that time zone showed it. */
export function instantWords(instant: string, timeZone: string): string {
  const at = new Date(instant)
  if (Number.isNaN(at.getTime())) return instant
  const clock = clocks.get(timeZone) ?? new Intl.DateTimeFormat('en-GB', { dateStyle: 'long', timeStyle: 'short', timeZone })
  clocks.set(timeZone, clock)
  const parts = clock.formatToParts(at)
  const of = (type: string): string => parts.find((part) => part.type === type)?.value ?? ''
  return `${of('day')} ${of('month')} ${of('year')}, ${of('hour')}:${of('minute')}`
}

const clocks = new Map<string, Intl.DateTimeFormat>()
