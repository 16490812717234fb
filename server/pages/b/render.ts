/** One page of a build page, for whoever holds its link and for the owner who looks at it before there is one. */
import { identityFor, maskFor } from '../../records/build-page.ts'
import { isDayAlone } from '../../records/masks.ts'
import { dateWords } from '../../web/format.ts'
import type { Given, Scope } from './scope.ts'
import { scopes } from './scopes/index.ts'
import { type View as Overview, overview } from './scopes/overview.ts'

/** What stands round every page. */
export type Frame = {
  readonly vehicle: string
  readonly title: string
  readonly asOf: string
  readonly until: string
  readonly nav: readonly { readonly href: string; readonly label: string; readonly isHere: boolean }[]
  /** where the owner came from; empty on the real page */
  readonly backHref: string
  /** the whole address, for paper; empty in a preview */
  readonly address: string
}
export type Front = { readonly overview: Overview | null; readonly pages: readonly { href: string; label: string; says: string }[] }
type Page = { readonly template: string; readonly title: string; readonly styles: readonly string[]; readonly view: object }

/** Null where this build page has no such page. '' is the first one, which is always there. */
export async function buildPage(
  given: Given,
  id: string,
  more: { readonly backHref?: string; readonly origin?: string } = {},
): Promise<Page | null> {
  const shown = scopesOf(given)
  const scope = id === '' ? overview : shown.find((one) => one.id === id && one !== overview)
  if (!scope) return null
  const view = id === '' ? front(given, shown) : await scope.view(given)
  const address = more.origin === undefined ? '' : `${more.origin}${given.link(id)}`
  const frame = frameOf(given, { scope, shown, backHref: more.backHref ?? '', address })
  const { name } = maskFor(given.db, given.share)
  return { template: scope.template, title: frame.title, styles: scope.styles ?? [], view: masked({ ...view, frame }, name) }
}

/** Those that the link shows. What it names and is not made any more is not missed. */
export function scopesOf({ share }: Pick<Given, 'share'>): readonly Scope[] {
  return scopes.filter((one) => share.shows.pages.includes(one.goesWith ?? one.id))
}

export function front(given: Given, shown: readonly Scope[]): Front {
  return {
    overview: shown.includes(overview) ? (overview.view(given) as Overview) : null,
    pages: shown.filter((one) => one !== overview).map(({ id, title, says }) => ({ href: given.link(id), label: title, says })),
  }
}

function frameOf(
  given: Given,
  more: { readonly scope: Scope; readonly shown: readonly Scope[]; readonly backHref: string; readonly address: string },
): Frame {
  const { scope, shown, backHref, address } = more
  const others = shown.filter((one) => one !== overview)
  return {
    vehicle: identityFor(given.db, given.share).name,
    // A chat that looks into a link it is sent shows its title: no vehicle is named there.
    title: scope === overview ? 'Build page' : `Build page: ${scope.title.toLowerCase()}`,
    asOf: dateWords(given.today),
    until: dateWords(given.share.expiresAt.slice(0, 10)),
    nav: [
      { href: given.link(''), label: 'Overview', isHere: scope === overview },
      ...others.map((one) => ({ href: given.link(one.id), label: one.title, isHere: one === scope })),
    ],
    backHref,
    address,
  }
}

/** Addresses, and drawings made from names looked through before. */
const AS_THEY_ARE = ['href', 'src', 'backHref', 'address', 'svg']

/** The same view with every string looked through, but for addresses, which hold nothing of anybody's, and drawings, whose names were. */
export function masked<T>(view: T, name: (text: string) => string): T {
  const of = (value: unknown, key: string): unknown => {
    if (typeof value === 'string') return AS_THEY_ARE.includes(key) || isDayAlone(value) ? value : name(value)
    if (Array.isArray(value)) return value.map((one) => of(one, key))
    if (typeof value !== 'object' || value === null) return value
    return Object.fromEntries(Object.entries(value).map(([inner, one]) => [inner, of(one, inner)]))
  }
  return of(view, '') as T
}
