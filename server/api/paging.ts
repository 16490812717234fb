/** Long lists in pieces: `limit` of them, after the one that `after` names. */
import { z } from 'zod'
import { Problem } from './problem.ts'

const limit = z.int().min(1).max(100).default(50).describe('How many at most: 1 to 100, 50 unless said.')

export const pageQuery = z.strictObject({
  limit,
  after: z.string().min(1).max(200).optional().describe('As the answer’s next gives it.'),
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
  readonly key: (item: T) => string
  readonly path: string
  readonly also?: Readonly<Record<string, string | undefined>>
}

/** The piece of a list that was asked for. A cursor that names nothing is refused, never taken for the beginning. */
export function piece<T>(all: readonly T[], given: Asked<T>): Page<T> {
  const { query, key } = given
  const at = query.after === undefined ? -1 : all.findIndex((item) => key(item) === query.after)
  if (query.after !== undefined && at < 0)
    throw new Problem('not-valid', 'There is nothing to go on after: begin without it.', {
      faults: [{ field: 'after', says: 'This names nothing in the list. Take it from the answer’s next.' }],
    })
  const items = all.slice(at + 1, at + 1 + query.limit)
  const last = items.at(-1)
  const hasMore = at + 1 + query.limit < all.length
  return { items, next: hasMore && last !== undefined ? nextAddress({ ...given, last: key(last) }) : null }
}

/** The same of a long list of which only the piece is read whole. */
export function readPiece<Answer>(
  ids: readonly string[],
  given: Omit<Asked<string>, 'key'> & { readonly read: (ids: readonly string[]) => readonly Answer[] },
): Page<Answer> {
  const { items, next } = piece(ids, { ...given, key: (id) => id })
  return { items: given.read(items), next }
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
