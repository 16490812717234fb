import type { ToldPhoto } from '../../records/build-page.ts'
import { PRIVATE, type Private, type ShareFacts } from '../../records/shares.ts'
import type { FormReader } from '../../web/form.ts'
import { dateWords, instantWords } from '../../web/format.ts'
import type { TodayOnly } from '../shared/today-only.ts'
import type { ShownFault } from '../shared/faults.ts'
import { type HandOver, PRESET_WORDS, PRESETS, queryOf } from './form.ts'
import type { Front } from './render.ts'
import { ticked } from './scopes/index.ts'

type Tick = { readonly name: string; readonly label: string; readonly says: string; readonly isOn: boolean }
export type View = {
  readonly todayOnly: TodayOnly
  readonly id: string
  readonly faults: readonly ShownFault[]
  /** the whole address, shown this once */
  readonly made: string
  readonly madeFor: string
  readonly preset: string
  readonly presets: readonly { readonly href: string; readonly label: string; readonly isHere: boolean }[]
  readonly recipient: string
  readonly expiresOn: string
  readonly from: string
  readonly pages: readonly Tick[]
  readonly lets: readonly Tick[]
  readonly photos: readonly { readonly id: string; readonly label: string; readonly isOut: boolean }[]
  readonly shown: string
  readonly out: string
  readonly preview: Front
  readonly links: readonly {
    readonly id: string
    readonly recipient: string
    readonly shows: string
    readonly note: string
    readonly isOpen: boolean
  }[]
  readonly beside: readonly { readonly href: string; readonly label: string; readonly says: string }[]
}

const LETS: Readonly<Record<Private, readonly [label: string, says: string]>> = {
  vin: ['VIN', 'the vehicle’s identification number'],
  plate: ['Plate', 'its registration'],
  prices: ['Prices', 'what parts and work cost, in the journal and under what was bought'],
  suppliers: ['Suppliers', 'where parts were bought'],
  places: ['Storage places', 'where spares lie'],
  names: ['People’s names', 'who wrote the entries, who it went to'],
  addresses: ['Exact addresses', 'where it is kept; addresses and numbers in your words'],
}

/** What else helps at a handing over: a tile each, by whoever makes one. */
const BESIDE: readonly { readonly to: string; readonly label: string; readonly says: string }[] = [
  { to: 'identity', label: 'Identity', says: 'make, model, year, VIN, plate' },
  { to: 'handover-file', label: 'Handover file', says: 'everything on paper, to print or as a PDF' },
  { to: 'wiring-drawing', label: 'Wiring drawing', says: 'with standard symbols' },
  { to: 'labels', label: 'Labels', says: 'to stick beside components' },
  { to: 'archive', label: 'The whole record', says: 'for its next owner, as a file to take in' },
]

export function view(given: {
  readonly vehicleId: string
  readonly todayOnly: TodayOnly
  readonly handOver: HandOver
  readonly form: FormReader
  readonly faults: readonly ShownFault[]
  readonly made: string
  readonly photos: readonly (ToldPhoto & { readonly id: string })[]
  readonly preview: Front
  readonly links: readonly ShareFacts[]
  readonly timeZone: string
}): View {
  const { vehicleId, handOver, form, preview } = given
  const { shows } = handOver
  const isWrong = (field: string) => given.faults.some((fault) => fault.field === field)
  const out = PRIVATE.filter((one) => !shows.lets.includes(one)).map((one) => LETS[one][0])
  return {
    todayOnly: given.todayOnly,
    id: vehicleId,
    faults: given.faults,
    made: given.made,
    madeFor: handOver.recipient,
    preset: handOver.preset,
    presets: PRESETS.map((one) => ({
      href: `/vehicles/${vehicleId}/hand-over?preset=${one}`,
      label: PRESET_WORDS[one],
      isHere: one === handOver.preset,
    })),
    recipient: handOver.recipient,
    expiresOn: isWrong('expiresOn') ? form.typed('expiresOn') : handOver.expiresOn,
    from: isWrong('from') ? form.typed('from') : (shows.journalFrom ?? ''),
    pages: ticked.map(({ id, title, says }) => ({ name: `page-${id}`, label: title, says, isOn: shows.pages.includes(id) })),
    lets: PRIVATE.map((one) => ({ name: `let-${one}`, label: LETS[one][0], says: LETS[one][1], isOn: shows.lets.includes(one) })),
    photos: given.photos.map(({ id, number, caption, component }) => ({
      id,
      label: caption || component || `Photo ${number}`,
      isOut: shows.withoutPhotos.includes(id),
    })),
    shown: pagesWords(shows.pages),
    out: out.length === 0 ? 'Nothing is left out.' : `Left out: ${out.join(', ')}.`,
    preview,
    links: given.links.map(({ id, recipient, shows: on, state, expiresAt, lastUsedAt }) => ({
      id,
      recipient,
      shows: pagesWords(on.pages),
      note: [
        state === 'revoked' ? 'taken back' : state === 'expired' ? `over since ${dateWords(expiresAt.slice(0, 10))}` : '',
        state === 'open' ? `until ${dateWords(expiresAt.slice(0, 10))}` : '',
        lastUsedAt === null ? 'never opened' : `last opened ${instantWords(lastUsedAt, given.timeZone)}`,
        on.lets.length === 0 ? '' : `with ${on.lets.map((one) => LETS[one][0]).join(', ')}`,
      ]
        .filter((one) => one !== '')
        .join('; '),
      isOpen: state === 'open',
    })),
    beside: BESIDE.map(({ to, ...one }) => ({ ...one, href: `/vehicles/${vehicleId}/${to}` })),
  }
}

/** The way back from a preview keeps what was ticked. */
export function handOverHref(vehicleId: string, handOver: HandOver): string {
  return `/vehicles/${vehicleId}/hand-over?${queryOf(handOver)}`
}

function pagesWords(ids: readonly string[]): string {
  const titles = ticked.filter((one) => ids.includes(one.id)).map((one) => one.title)
  return titles.length === 0 ? 'no page' : titles.join(', ')
}
