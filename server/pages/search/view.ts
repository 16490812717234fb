import type { Found, Hit, Piece } from '../../records/search.ts'
import { dateWords } from '../../web/format.ts'
import { type Option, option } from '../shared/options.ts'

export type View = {
  readonly asked: string
  readonly kinds: readonly Option[]
  readonly vehicles: readonly Option[]
  /** "12 found, page 1 of 2"; empty where nothing was asked */
  readonly count: string
  readonly note: string
  readonly all: string
  readonly hits: readonly {
    readonly kind: string
    readonly href: string
    readonly title: readonly Piece[]
    readonly excerpt: readonly Piece[]
    readonly facts: string
    readonly withdrawn: boolean
  }[]
  readonly before: string
  readonly after: string
}

const KINDS = { component: 'Component', entry: 'Entry', part: 'Part', reading: 'Reading' } as const
const SEVERAL = { component: 'Components', entry: 'Entries', part: 'Parts', reading: 'Readings' } as const

export function view(given: {
  readonly asked: string
  readonly kind: string
  readonly vehicleId: string
  readonly vehicles: readonly { readonly id: string; readonly name: string }[]
  readonly found: Found
}): View {
  const { found, kind, vehicleId } = given
  const asked = given.asked.replaceAll('\u0000', '').slice(0, 200)
  const address = (page: number) => {
    const fields = { q: asked, ...(vehicleId === '' ? {} : { vehicle: vehicleId }), ...(kind === '' ? {} : { kind }) }
    return `/search?${new URLSearchParams({ ...fields, ...(page === 1 ? {} : { page: String(page) }) })}`
  }
  return {
    asked,
    kinds: [option('', 'Everything', kind), ...Object.entries(SEVERAL).map(([value, label]) => option(value, label, kind))],
    vehicles: [option('', 'All vehicles and the shelf', vehicleId), ...given.vehicles.map((one) => option(one.id, one.name, vehicleId))],
    count: asked === '' ? '' : countWords(found),
    note: found.shortened ? 'Only the first twelve words, and the first 200 letters, were looked for.' : '',
    all: kind === '' && vehicleId === '' ? '' : `/search?${new URLSearchParams({ q: asked })}`,
    hits: found.hits.map((hit) => ({
      kind: KINDS[hit.kind],
      href: hrefOf(hit),
      title: hit.title,
      excerpt: hit.excerpt,
      facts: [hit.vehicleName, hit.on === null ? '' : dateWords(hit.on)].filter((one) => one !== '').join(' · '),
      withdrawn: hit.withdrawn,
    })),
    before: found.page > 1 ? address(found.page - 1) : '',
    after: found.page < found.pages ? address(found.page + 1) : '',
  }
}

function countWords({ count, atLeast, page, pages }: Found): string {
  if (count === 0) return 'Nothing found'
  return `${atLeast ? 'More than ' : ''}${count} found${pages > 1 ? `, page ${page} of ${pages}` : ''}`
}

function hrefOf(hit: Hit): string {
  if (hit.kind === 'part') return `/parts/${hit.id}`
  return hit.kind === 'component' ? `/vehicles/${hit.vehicleId}/components/${hit.id}` : `/entries/${hit.id}`
}
