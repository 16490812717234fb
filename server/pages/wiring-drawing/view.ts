import type { Drawing } from '../../drawing/wiring-drawing.ts'
import type { VehicleDocument } from '../../engine/vehicle.ts'
import { type DayView, dayQuery, dayView } from '../shared/day-view.ts'
import type { Day } from '../shared/vehicle-facts.ts'
import { type WiringSheets, wiringSheets } from '../shared/wiring-sheets.ts'

export type View = Omit<WiringSheets, 'conductors'> & {
  readonly id: string
  readonly day: DayView
  readonly dayQuery: string
  readonly nothing: string
  readonly conductors: readonly (WiringSheets['conductors'][number] & {
    /** where its marks are recorded */
    readonly marksHref: string
  })[]
  /** today, where marks can be recorded */
  readonly canRecord: boolean
}

export function view(given: {
  readonly vehicle: { readonly id: string; readonly name: string; readonly firstOn: string | null }
  readonly day: Day
  readonly document: VehicleDocument
  readonly drawing: Drawing
}): View {
  const { vehicle, day, document, drawing } = given
  const query = dayQuery(day)
  const drawn = wiringSheets({
    vehicle: vehicle.name,
    on: day.on,
    drawing,
    href: (key) => `/vehicles/${vehicle.id}/components/${key}${query}`,
    anchor: (node) => node,
  })
  return {
    ...drawn,
    id: vehicle.id,
    day: dayView(day, { vehicle, path: `/vehicles/${vehicle.id}/wiring-drawing` }),
    dayQuery: query,
    nothing: document.components.length > 0 ? '' : 'Nothing is recorded yet, so there is nothing to draw.',
    conductors: drawn.conductors.map((one) => ({ ...one, marksHref: `/vehicles/${vehicle.id}/components/${one.key}/marks` })),
    canRecord: day.isToday,
  }
}
