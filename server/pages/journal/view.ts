import type { JournalList, ListedEntry } from '../../records/journal-list.ts'
import type { LastSave } from '../../records/versions.ts'
import { dateWords } from '../../web/format.ts'
import { type DayView, dayView } from '../shared/day-view.ts'
import { moneyWords } from '../shared/money-words.ts'
import type { Span } from '../shared/paging.ts'
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
  readonly list: JournalList
  readonly span: Span
  readonly sought: string
  readonly last: LastSave | null
  readonly currency: string
}): View {
  const { vehicle, day, list, span, sought } = given
  const { entries, costs_minor } = list
  return {
    id: vehicle.id,
    day: dayView(day, { vehicle, path: `/vehicles/${vehicle.id}/journal`, kept: { contains: sought } }),
    sought,
    count: `${span.count}, latest first`,
    undo: day.isToday ? undoView(given.last) : null,
    groups: [...new Set(entries.map(yearOf))].map((year) => ({
      year,
      cost: costs_minor[year] === undefined ? '' : `cost ${moneyWords(costs_minor[year], given.currency)}`,
      entries: entries
        .filter((entry) => yearOf(entry) === year)
        .map((entry) => ({
          id: entry.id,
          when: dateWords(entry.effectiveOn).replace(` ${year}`, ''),
          title: entry.title,
          facts: factsOf(entry, given.currency),
          withdrawn: entry.withdrawn,
          corrected: entry.corrected,
        })),
    })),
    earlier: span.after,
    later: span.before,
  }
}

function yearOf(entry: ListedEntry): string {
  return entry.effectiveOn.slice(0, 4)
}

function factsOf(entry: ListedEntry, currency: string): string {
  return [
    entry.odometer_km === null ? '' : `${entry.odometer_km} km`,
    entry.cost_minor === null ? '' : moneyWords(entry.cost_minor, currency),
    entry.appeared === 0 ? '' : counted(entry.appeared, 'new finding'),
  ]
    .filter((one) => one !== '')
    .join(' · ')
}
