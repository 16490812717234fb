/**
 * Long lists in pieces: `limit` of them, after the place that `after` names. That is a place in the list's order and no row: what stood there
 * may be corrected, renamed or taken out before the next piece is asked for.
 */
import { z } from 'zod'
import { Problem } from './problem.ts'

const limit = z.int().min(1).max(100).default(50).describe('How many at most: 1 to 100, 50 unless said.')

export const pageQuery = z.strictObject({
  limit,
  after: z
    .string()
    .min(1)
    .max(300)
    .optional()
    .describe('As the answer’s next gives it: a place in the order of the list, good also when something was recorded or corrected since.'),
})
export type PageQuery = z.infer<typeof pageQuery>
export type Page<T> = { readonly items: readonly T[]; readonly next: string | null }

export function pageOf<T extends z.ZodType>(item: T) {
  return z.strictObject({
    items: z.array(item),
    next: z.string().nullable().describe('The address of what follows; null at the end.'),
  })
}

/** What the order goes by, as words. */
type Place = readonly string[]
/** The order of a list, in which no two things have the same place. */
export type Order<T> = {
  readonly placeOf: (item: T) => Place
  /** the words of a place, joined by `_`, one group for each */
  readonly looksLike: RegExp
  /** below zero where the first comes first */
  readonly compare: (one: Place, other: Place) => number
}
type Compare = (one: string, other: string) => number
export const rising: Compare = (one, other) => (one < other ? -1 : one > other ? 1 : 0)
export const falling: Compare = (one, other) => rising(other, one)

/** By the first word, of equals by the second, and so on. */
export function inTurn(...all: readonly Compare[]): Order<unknown>['compare'] {
  return (one, other) => {
    for (const [n, compare] of all.entries()) {
      const found = compare(one[n] as string, other[n] as string)
      if (found !== 0) return found
    }
    return 0
  }
}

/** Pieces of expressions, to put places together from. */
export const ID = '[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}'
export const DAY_AND_ID = `(\\d{4}-\\d\\d-\\d\\d)_(${ID})`
/** Things whose order is that of their ids. */
export const byId = (compare: Compare): Order<{ readonly id: string }> => ({
  placeOf: ({ id }) => [id],
  looksLike: new RegExp(`^(${ID})$`),
  compare: inTurn(compare),
})
/** The journal's order turned round: every version of an entry has the place of its first. */
export const latestFirst: Order<{ readonly effectiveOn: string; readonly placeId: string }> = {
  placeOf: ({ effectiveOn, placeId }) => [effectiveOn, placeId],
  looksLike: new RegExp(`^${DAY_AND_ID}$`),
  compare: inTurn(falling, falling),
}

type Asked<T> = {
  readonly query: PageQuery
  readonly order: Order<T>
  readonly path: string
  readonly also?: Readonly<Record<string, string | undefined>>
}

/** The piece of a list that was asked for. A cursor that names no place is refused, never taken for the beginning. */
export function piece<T>(all: readonly T[], given: Asked<T>): Page<T> {
  const { query, order } = given
  const from = query.after === undefined ? 0 : firstAfter(all, { after: query.after, order })
  const items = all.slice(from, from + query.limit)
  const last = items.at(-1)
  const hasMore = from + query.limit < all.length
  return { items, next: hasMore && last !== undefined ? nextAddress({ ...given, last: order.placeOf(last).join('_') }) : null }
}

/** The same of a long list of which only the piece is read whole. */
export function readPiece<T, Answer>(
  all: readonly T[],
  given: Asked<T> & { readonly read: (items: readonly T[]) => readonly Answer[] },
): Page<Answer> {
  const { items, next } = piece(all, given)
  return { items: given.read(items), next }
}

function firstAfter<T>(all: readonly T[], { after, order }: { readonly after: string; readonly order: Order<T> }): number {
  const place = order.looksLike.exec(after)?.slice(1)
  if (place === undefined)
    throw new Problem('not-valid', 'There is nothing to go on after: begin without it.', {
      faults: [{ field: 'after', says: 'This is no place in the list. Take it from the answer’s next.' }],
    })
  const at = all.findIndex((item) => order.compare(order.placeOf(item), place) > 0)
  return at < 0 ? all.length : at
}

function nextAddress(given: {
  readonly path: string
  readonly query: PageQuery
  readonly last: string
  readonly also?: Readonly<Record<string, string | undefined>>
}): string {
  const words = new URLSearchParams({ limit: String(given.query.limit), after: given.last })
  for (const [name, value] of Object.entries(given.also ?? {})) if (value !== undefined) words.set(name, value)
  return `${given.path}?${words}`
}
