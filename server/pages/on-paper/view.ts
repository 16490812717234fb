import { type DayView, dayQuery, dayView } from '../shared/day-view.ts'
import { worstWords } from '../shared/finding-view.ts'
import type { Day } from '../shared/vehicle-facts.ts'
import type { Verdict } from '../../engine/report.ts'

export type View = {
  readonly id: string
  readonly day: DayView
  readonly dayQuery: string
  readonly boxes: readonly { readonly name: string; readonly href: string; readonly what: string }[]
  readonly worst: string
}

export function view(given: {
  readonly vehicle: { readonly id: string; readonly firstOn: string | null }
  readonly day: Day
  readonly boxes: readonly { readonly key: string; readonly name: string; readonly devices: readonly string[] }[]
  readonly verdicts: Readonly<Record<Verdict, number>>
}): View {
  const { id } = given.vehicle
  return {
    id,
    day: dayView(given.day, { vehicle: given.vehicle, path: `/vehicles/${id}/on-paper` }),
    dayQuery: dayQuery(given.day),
    boxes: given.boxes.map((box) => ({
      name: box.name,
      href: `/vehicles/${id}/fuse-box/${box.key}/chart${dayQuery(given.day)}`,
      what: box.devices.length === 1 ? '1 fuse' : `${box.devices.length} fuses`,
    })),
    worst: worstWords(given.verdicts),
  }
}
