/** Long lists, some rows to a page. */

export type Paged<T> = {
  readonly shown: readonly T[]
  /** "148 components, page 2 of 3" */
  readonly count: string
  /** addresses of the pages before and after; empty where there is none */
  readonly before: string
  readonly after: string
}

const PER_PAGE = 50

/** The page asked for, or the nearest there is. `things`: what one is called and what several are. */
export function pageOf<T>(
  rows: readonly T[],
  given: { readonly asked: unknown; readonly things: readonly [one: string, several: string]; readonly address: (page: number) => string },
): Paged<T> {
  const { asked, things, address } = given
  const pages = Math.max(1, Math.ceil(rows.length / PER_PAGE))
  const page = Math.min(pages, Math.max(1, Math.floor(Number(asked)) || 1))
  return {
    shown: rows.slice((page - 1) * PER_PAGE, page * PER_PAGE),
    count: `${rows.length} ${things[rows.length === 1 ? 0 : 1]}${pages > 1 ? `, page ${page} of ${pages}` : ''}`,
    before: page > 1 ? address(page - 1) : '',
    after: page < pages ? address(page + 1) : '',
  }
}
