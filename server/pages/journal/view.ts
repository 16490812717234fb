import type { SavedEntry } from '../../records/contract.ts'
import { dateWords, money } from '../../web/format.ts'

export type View = {
  readonly id: string
  readonly sought: string
  readonly entries: readonly {
    readonly id: string
    readonly when: string
    readonly title: string
    readonly facts: string
    readonly withdrawn: boolean
  }[]
  readonly years: readonly { readonly year: string; readonly cost: string }[]
}

export function view(given: {
  readonly vehicle: { readonly id: string }
  readonly entries: readonly SavedEntry[]
  readonly sought: string
}): View {
  const years = new Map<string, number>()
  for (const entry of given.entries)
    if (!entry.withdrawn && entry.cost_minor !== null)
      years.set(entry.effectiveOn.slice(0, 4), (years.get(entry.effectiveOn.slice(0, 4)) ?? 0) + entry.cost_minor)
  return {
    id: given.vehicle.id,
    sought: given.sought,
    entries: given.entries.map((entry) => ({
      id: entry.id,
      when: dateWords(entry.effectiveOn),
      title: entry.title,
      facts: [
        entry.odometer_km === null ? '' : `${entry.odometer_km} km`,
        entry.cost_minor === null ? '' : money(entry.cost_minor),
        entry.shown && entry.shown.appeared.length > 0 ? `${entry.shown.appeared.length} new findings` : '',
      ]
        .filter((one) => one !== '')
        .join(' · '),
      withdrawn: entry.withdrawn,
    })),
    years: [...years].sort((a, b) => (a[0] < b[0] ? 1 : -1)).map(([year, minor]) => ({ year, cost: money(minor) })),
  }
}
