/** Long lists, some rows to a page. */

/** The stretch of a list that one page shows. */
export type Span = {
  readonly from: number
  readonly most: number
  readonly page: number
  /** "148 components, page 2 of 3" */
  readonly count: string
  /** addresses of the pages before and after; empty where there is none */
  readonly before: string
  readonly after: string
}
export type Paged<T> = Pick<Span, 'count' | 'before' | 'after'> & { readonly shown: readonly T[] }
type Asked = {
  readonly asked: unknown
  readonly things: readonly [one: string, several: string]
  readonly address: (page: number) => string
  readonly perPage?: number
}

const PER_PAGE = 50

export function pageOf<T>(rows: readonly T[], given: Asked): Paged<T> {
  const { from, most, count, before, after } = spanOf(rows.length, given)
  return { shown: rows.slice(from, from + most), count, before, after }
}

/** The page asked for, or the nearest there is. `things`: what one is called and what several are. */
export function spanOf(size: number, given: Asked): Span {
  const { things, address, perPage = PER_PAGE } = given
  const pages = Math.max(1, Math.ceil(size / perPage))
  const page = Math.min(pages, pageAsked(given.asked))
  return {
    from: (page - 1) * perPage,
    most: perPage,
    page,
    count: `${size} ${things[size === 1 ? 0 : 1]}${pages > 1 ? `, page ${page} of ${pages}` : ''}`,
    before: page > 1 ? address(page - 1) : '',
    after: page < pages ? address(page + 1) : '',
  }
}

/** A whole number from one, whatever was typed in the address. */
export function pageAsked(asked: unknown): number {
  return Math.max(1, Math.floor(Number(typeof asked === 'string' ? asked : '')) || 1)
}
