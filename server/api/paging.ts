/**
 * Long lists in pieces: `limit` of them, after the place that `after` names. That is a place in the list's order and no row: what stood there
 * may be corrected, renamed or taken out before the next piece is asked for.
 */
import { z } from 'zod'
import type { Order } from './orders.ts'
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
