/** Where the present comes from: handed in, so that tests can hold it still. */
export type Clock = { now(): Date }

export const systemClock: Clock = { now: () => new Date() }

export function fixedClock(instant: string): Clock {
  return { now: () => new Date(instant) }
}

const calendars = new Map<string, Intl.DateTimeFormat>()

/** Today's date, YYYY-MM-DD, as a calendar on the wall of that time zone shows it. */
export function today(clock: Clock, timeZone: string): string {
  const calendar =
    calendars.get(timeZone) ?? new Intl.DateTimeFormat('en-GB', { timeZone, year: 'numeric', month: '2-digit', day: '2-digit' })
  calendars.set(timeZone, calendar)
  const parts = calendar.formatToParts(clock.now())
  const of = (type: string): string => parts.find((part) => part.type === type)?.value ?? ''
  return `${of('year').padStart(4, '0')}-${of('month')}-${of('day')}`
}
