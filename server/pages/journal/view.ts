import type { SavedEntry } from '../../records/contract.ts'
import type { LastSave } from '../../records/versions.ts'
import { dateWords, money } from '../../web/format.ts'
import { type DayView, dayQuery, dayView } from '../shared/day-view.ts'
import { pageOf } from '../shared/paging.ts'
import { counted } from '../shared/tried.ts'
import { type UndoView, undoView } from '../shared/undo-view.ts'
import type { Day } from '../shared/vehicle-facts.ts'

export type View = {
  readonly id: string
  readonly day: DayView
  readonly sought: string
  readonly count: string
  readonly undo: UndoView | null
  readonly groups: readonly {
    readonly year: string
    readonly cost: string
    readonly entries: readonly {
      readonly id: string
      readonly when: string
      readonly title: string
      readonly facts: string
      readonly withdrawn: boolean
      readonly corrected: boolean
    }[]
  }[]
  readonly earlier: string
  readonly later: string
}

export function view(given: {
  readonly vehicle: { readonly id: string; readonly firstOn: string | null }
  readonly day: Day
  readonly entries: readonly SavedEntry[]
  readonly sought: string
  readonly page: unknown
  readonly last: LastSave | null
  readonly corrected: ReadonlySet<string>
}): View {
  const { vehicle, day, sought } = given
  const entries = day.isToday ? given.entries : given.entries.filter((entry) => entry.effectiveOn <= day.on)
  const { shown, count, before, after } = pageOf(entries, {
    asked: given.page,
    things: ['entry', 'entries'],
    address: (to) =>
      `/vehicles/${vehicle.id}/journal${dayQuery(day, { page: String(to), ...(sought === '' ? {} : { contains: sought }) })}`,
  })
  return {
    id: vehicle.id,
    day: dayView(day, { vehicle, path: `/vehicles/${vehicle.id}/journal`, kept: { contains: sought } }),
    sought,
    count: `${count}, latest first`,
    undo: day.isToday ? undoView(given.last) : null,
    groups: [...new Set(shown.map(yearOf))].map((year) => ({
      year,
      cost: costWords(entries.filter((entry) => yearOf(entry) === year)),
      entries: shown
        .filter((entry) => yearOf(entry) === year)
        .map((entry) => ({
          id: entry.id,
          when: dateWords(entry.effectiveOn).replace(` ${year}`, ''),
          title: entry.title,
          facts: factsOf(entry),
          withdrawn: entry.withdrawn,
          corrected: given.corrected.has(entry.id),
        })),
    })),
    earlier: after,
    later: before,
  }
}

function yearOf(entry: SavedEntry): string {
  return entry.effectiveOn.slice(0, 4)
}

function costWords(entries: readonly SavedEntry[]): string {
  const costs = entries.flatMap((entry) => (entry.withdrawn || entry.cost_minor === null ? [] : [entry.cost_minor]))
  return costs.length === 0 ? '' : `cost ${money(costs.reduce((sum, cost) => sum + cost, 0))}`
}

function factsOf(entry: SavedEntry): string {
  const appeared = entry.shown?.appeared.length ?? 0
  return [
    entry.odometer_km === null ? '' : `${entry.odometer_km} km`,
    entry.cost_minor === null ? '' : money(entry.cost_minor),
    appeared === 0 ? '' : counted(appeared, 'new finding'),
  ]
    .filter((one) => one !== '')
    .join(' · ')
}
