import type { SavedEntry } from '../../records/contract.ts'
import { dateWords, money } from '../../web/format.ts'

export type View = {
  readonly id: string
  readonly sought: string
  readonly count: string
  readonly groups: readonly {
    readonly year: string
    readonly cost: string
    readonly entries: readonly {
      readonly id: string
      readonly when: string
      readonly title: string
      readonly facts: string
      readonly withdrawn: boolean
    }[]
  }[]
  readonly earlier: string
  readonly later: string
}

const PER_PAGE = 50

export function view(given: {
  readonly vehicle: { readonly id: string }
  readonly entries: readonly SavedEntry[]
  readonly sought: string
  readonly page: number
}): View {
  const { vehicle, entries, sought } = given
  const pages = Math.max(1, Math.ceil(entries.length / PER_PAGE))
  const page = Math.min(pages, Math.max(1, Math.floor(given.page) || 1))
  const shown = entries.slice((page - 1) * PER_PAGE, page * PER_PAGE)
  const address = (to: number) =>
    `/vehicles/${vehicle.id}/journal?page=${to}${sought === '' ? '' : `&contains=${encodeURIComponent(sought)}`}`
  return {
    id: vehicle.id,
    sought,
    count: `${entries.length === 1 ? '1 entry' : `${entries.length} entries`}${pages > 1 ? `, page ${page} of ${pages}` : ''}, latest first`,
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
        })),
    })),
    earlier: page < pages ? address(page + 1) : '',
    later: page > 1 ? address(page - 1) : '',
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
    appeared === 0 ? '' : appeared === 1 ? '1 new finding' : `${appeared} new findings`,
  ]
    .filter((one) => one !== '')
    .join(' · ')
}
