/** A page that is of today alone says so where one comes to it from a past day, and leads back to that day. */
import { dateWords } from '../../web/format.ts'
import type { Day } from './vehicle-facts.ts'

export type TodayOnly = {
  readonly past: { readonly on: string; readonly href: string } | null
  /** what is wrong with the day that was asked for */
  readonly fault: string
}

export function todayOnly(day: Day, vehicleId: string): TodayOnly {
  return {
    past: day.isToday ? null : { on: dateWords(day.on), href: `/vehicles/${vehicleId}?on=${day.on}` },
    fault: day.fault,
  }
}
