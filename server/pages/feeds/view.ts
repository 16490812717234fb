import type { Feed } from '../../records/feeds.ts'
import type { FormReader } from '../../web/form.ts'
import { dateWords } from '../../web/format.ts'
import type { ShownFault } from '../shared/faults.ts'
import { type Option, option } from '../shared/options.ts'

export type View = {
  readonly faults: readonly ShownFault[]
  /** the whole address, shown this once */
  readonly made: string
  readonly kinds: readonly Option[]
  readonly vehicles: readonly Option[]
  readonly feeds: readonly { readonly id: string; readonly what: string; readonly when: string }[]
}

const WORDS = { due: 'What is due, for a calendar', journal: 'The journal, for a feed reader' } as const

export function view(given: {
  readonly feeds: readonly Feed[]
  readonly vehicles: readonly { readonly id: string; readonly name: string }[]
  readonly form: FormReader
  readonly faults: readonly ShownFault[]
  readonly made: string
}): View {
  const { form } = given
  const nameOf = (id: string | null) => given.vehicles.find((one) => one.id === id)?.name ?? 'all vehicles'
  return {
    faults: given.faults,
    made: given.made,
    kinds: (['due', 'journal'] as const).map((kind) => option(kind, WORDS[kind], form.typed('kind'))),
    vehicles: given.vehicles.map((one) => option(one.id, one.name, form.typed('vehicle'))),
    feeds: given.feeds.map((feed) => ({
      id: feed.id,
      what: `${WORDS[feed.kind]}: ${nameOf(feed.vehicleId)}`,
      when: `made ${dateWords(feed.recordedAt.slice(0, 10))}, ${feed.lastUsedAt === null ? 'not fetched yet' : `last fetched ${dateWords(feed.lastUsedAt.slice(0, 10))}`}`,
    })),
  }
}
