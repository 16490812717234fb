/** What a printed document is made of, whichever way it is printed: from the browser or as a PDF file. */

export type Head = {
  readonly label: string
  /** of the table's width, beside the others */
  readonly share: number
}
/** The first column names its row. */
export type Table = {
  readonly kind: 'table'
  readonly caption: string
  readonly heads: readonly Head[]
  readonly rows: readonly (readonly string[])[]
}
export type Block =
  | Table
  | { readonly kind: 'words'; readonly text: string }
  | { readonly kind: 'list'; readonly items: readonly string[] }
  | { readonly kind: 'facts'; readonly facts: readonly { readonly label: string; readonly value: string }[] }
  | {
      readonly kind: 'entries'
      readonly entries: readonly { readonly when: string; readonly title: string; readonly lines: readonly string[] }[]
    }
  | { readonly kind: 'drawing'; readonly title: string; readonly svg: string }
export type Section = { readonly id: string; readonly title: string; readonly blocks: readonly Block[] }

export function words(text: string): Block {
  return { kind: 'words', text }
}

/** A table, or the sentence that says why there is none. A column that says "not recorded" or "not known" in every row is told once, in words. */
export function tableOr(table: Omit<Table, 'kind'>, none: string): readonly Block[] {
  if (table.rows.length === 0) return none === '' ? [] : [words(none)]
  const empty = EMPTY.flatMap((word) => columnsOf(table, word))
  if (table.rows.length === 1 || empty.length === 0) return [{ kind: 'table', ...table }]
  const kept = <T>(cells: readonly T[]) => cells.filter((_, n) => !empty.includes(n))
  const says = EMPTY.flatMap((word) => {
    const labels = columnsOf(table, word).map((n) => (table.heads[n]?.label ?? '').toLowerCase())
    return labels.length > 0 ? [`${labels.join('; ')}: ${word} for any of these.`] : []
  })
  return [
    { kind: 'table', caption: table.caption, heads: kept(table.heads), rows: table.rows.map(kept) },
    words(says.map((one) => one.charAt(0).toUpperCase() + one.slice(1)).join(' ')),
  ]
}

const EMPTY = ['not recorded', 'not known'] as const

function columnsOf(table: Pick<Table, 'heads' | 'rows'>, word: string): readonly number[] {
  return table.heads.flatMap((_, n) => (n > 0 && table.rows.every((row) => row[n] === word) ? [n] : []))
}
