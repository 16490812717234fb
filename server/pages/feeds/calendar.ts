/** What is due as an iCalendar (RFC 5545): whole days, ids that stay, and nothing but what, when and of which vehicle. */
import ical, { ICalEventTransparency } from 'ical-generator'
import type { DueItem } from '../../records/due.ts'
import { plainLine } from '../../web/plain-text.ts'

export type Dated = Pick<DueItem, 'vehicleId' | 'vehicleName' | 'key' | 'what' | 'on'> & { readonly recordedAt: string }

export function calendarOf(items: readonly Dated[]): string {
  const calendar = ical({ name: 'Loombook: due', prodId: { company: 'Loombook', product: 'due', language: 'EN' } })
  for (const item of items) {
    if (item.on === undefined) continue
    calendar.createEvent({
      id: `${item.key}.${item.vehicleId}@loombook`,
      // A day without an hour is read and written in UTC, so it stays the day it is.
      start: item.on,
      allDay: true,
      stamp: item.recordedAt,
      summary: `${plainLine(item.what)} (${plainLine(item.vehicleName)})`,
      transparency: ICalEventTransparency.TRANSPARENT,
    })
  }
  return `${calendar.toString().trimEnd()}\r\n`
}
