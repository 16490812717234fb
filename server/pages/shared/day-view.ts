/** The day a page stands on: the note that says so, and the one control that changes it. */
import { dateWords } from '../../web/format.ts'
import type { Day } from './vehicle-facts.ts'

export type DayView = {
  /** "3 May 2024" where it is not today's page */
  readonly asOf: string
  /** whether the page judges anything, by the figures of today */
  readonly judges: boolean
  readonly todayHref: string
  readonly action: string
  readonly on: string
  readonly fault: string
  /** what else the page was asked for and keeps */
  readonly kept: readonly { readonly name: string; readonly value: string }[]
  readonly compareHref: string
  /** "Nothing was recorded before 3 May 2024." */
  readonly before: string
}

export function dayView(
  day: Day,
  given: {
    readonly vehicle: { readonly id: string; readonly firstOn: string | null }
    /** the page's own address, without day */
    readonly path: string
    readonly kept?: Readonly<Record<string, string>>
    /** false where the page judges nothing */
    readonly judges?: boolean
  },
): DayView {
  const { vehicle, path } = given
  const kept = Object.entries(given.kept ?? {}).filter(([, value]) => value !== '')
  const rest = new URLSearchParams(kept).toString()
  return {
    asOf: day.isToday ? '' : dateWords(day.on),
    judges: given.judges ?? true,
    todayHref: rest === '' ? path : `${path}?${rest}`,
    action: path,
    on: day.typed || day.on,
    fault: day.fault,
    kept: kept.map(([name, value]) => ({ name, value })),
    compareHref: `/vehicles/${vehicle.id}/compare${day.isToday ? '' : `?from=${day.on}`}`,
    before: !day.isToday && vehicle.firstOn !== null && day.on < vehicle.firstOn ? beforeWords(vehicle.firstOn) : '',
  }
}

export function beforeWords(firstOn: string): string {
  return `Nothing was recorded before ${dateWords(firstOn)}.`
}

/** "?on=2024-05-03" where it is not today's page, and what else is asked for. */
export function dayQuery(day: Day, more: Readonly<Record<string, string>> = {}): string {
  const asked = { ...(day.isToday ? {} : { on: day.on }), ...more }
  const query = new URLSearchParams(asked).toString()
  return query === '' ? '' : `?${query}`
}
