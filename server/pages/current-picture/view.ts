import type { FeedRow, Report } from '../../engine/report.ts'
import type { VehicleDocument } from '../../engine/vehicle.ts'
import { type CurrentStrips, currentStrips, verdictOf } from '../shared/current-strips.ts'
import { type DayView, dayQuery, dayView } from '../shared/day-view.ts'
import type { Option } from '../shared/options.ts'
import type { Chosen, Day } from '../shared/vehicle-facts.ts'

export type View = CurrentStrips & {
  readonly id: string
  readonly day: DayView
  readonly on: string
  readonly isToday: boolean
  readonly dayQuery: string
  readonly condition: string
  readonly conditions: readonly Option[]
}

export function view(given: {
  readonly vehicle: { readonly id: string; readonly name: string; readonly firstOn: string | null }
  readonly day: Day
  readonly judged: { readonly document: VehicleDocument; readonly report: Report }
  readonly condition: Chosen
  readonly rows: readonly FeedRow[]
}): View {
  const { vehicle, day, judged, condition, rows } = given
  return {
    id: vehicle.id,
    day: dayView(day, {
      vehicle,
      path: `/vehicles/${vehicle.id}/current-picture`,
      kept: condition.isAsked ? { condition: condition.key } : {},
    }),
    on: day.on,
    isToday: day.isToday,
    dayQuery: dayQuery(day),
    condition: condition.name,
    conditions: condition.options,
    ...currentStrips({
      vehicle: vehicle.name,
      on: day.on,
      ...judged,
      condition,
      rows,
      href: (key) => `/vehicles/${vehicle.id}/components/${key}${condition.query}`,
      verdict: (key) => verdictOf(judged.report, key),
    }),
  }
}
