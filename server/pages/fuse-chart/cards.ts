/** Which rows of a fuse chart stand on which card, and in what size of type, so that none falls below what can be read. */
import type { FuseRow } from '../shared/fuse-boxes.ts'

export type CardSize = {
  readonly name: string
  readonly width_mm: number
  readonly height_mm: number
  readonly margin_mm: number
  readonly sizes_pt: readonly number[]
  readonly splitAt_pt: number
}

/** The lid of a fuse box, and ISO 216 A5 upright. Sizes of type are tried from the first down; where none fits, the rows go over several cards. */
export const CARD_SIZES = {
  card: { name: '90 × 60 mm', width_mm: 90, height_mm: 60, margin_mm: 3, sizes_pt: [8, 7.5, 7, 6.5, 6, 5.5], splitAt_pt: 6 },
  a5: { name: 'A5', width_mm: 148, height_mm: 210, margin_mm: 9, sizes_pt: [12, 11, 10, 9, 8], splitAt_pt: 9 },
} as const satisfies Record<string, CardSize>
export type CardName = keyof typeof CARD_SIZES

export type Column = 'position' | 'rating' | 'colour' | 'feeds' | 'wire' | 'spare'
export const COLUMNS: readonly { readonly id: Column; readonly label: string; readonly share: number }[] = [
  { id: 'position', label: 'Fuse', share: 13 },
  { id: 'rating', label: 'Rated', share: 10 },
  { id: 'colour', label: 'Colour', share: 13 },
  { id: 'feeds', label: 'Feeds', share: 42 },
  { id: 'wire', label: 'Wire', share: 14 },
  { id: 'spare', label: 'Spare', share: 8 },
]

export type ChartRow = Readonly<Record<Column, string>>
export type Cards = { readonly size_pt: number; readonly cards: readonly (readonly ChartRow[])[] }

/** How many lines a text takes in a column of that width. */
export type LinesOf = (text: string, given: { readonly width_mm: number; readonly size_pt: number }) => number

export const LEADING = 1.15
const MM_PER_PT = 25.4 / 72
/** above and below the text of a row */
export const ROW_PAD_mm = 0.35
export const GAP_mm = 1

/** A text on a lid is short: four names at most, and how many more there are. */
export function chartRow(row: FuseRow): ChartRow {
  const [first = '', ...rest] = row.feeds
  const shown = [first, ...rest.slice(0, rest.length > 3 ? 2 : 3)]
  const more = row.feeds.length - shown.length
  return {
    position: row.position === row.name || row.position === '' ? row.name : `${row.position} ${row.name}`,
    rating: row.rating,
    colour: row.colour === '' ? 'none' : row.colour,
    feeds: shown.join('; ') + (more > 0 ? `; and ${more} more` : ''),
    wire: row.wire,
    spare: row.spare,
  }
}

/** `around` are the texts above and below the rows, each on lines of its own. */
export function planCards(
  rows: readonly ChartRow[],
  given: { readonly size: CardSize; readonly around: readonly string[]; readonly linesOf: LinesOf },
): Cards {
  const { size } = given
  for (const size_pt of size.sizes_pt) {
    const cards = dealt(rows, { ...given, size_pt })
    if (cards.length <= 1) return { size_pt, cards }
  }
  return { size_pt: size.splitAt_pt, cards: dealt(rows, { ...given, size_pt: size.splitAt_pt }) }
}

export function columnWidths_mm(size: CardSize): readonly number[] {
  const shares = COLUMNS.reduce((sum, column) => sum + column.share, 0)
  const free_mm = size.width_mm - 2 * size.margin_mm - GAP_mm * (COLUMNS.length - 1)
  return COLUMNS.map((column) => (free_mm * column.share) / shares)
}

export function rowHeight_mm(
  row: ChartRow,
  given: { readonly size: CardSize; readonly size_pt: number; readonly linesOf: LinesOf },
): number {
  const { size, size_pt, linesOf } = given
  const widths = columnWidths_mm(size)
  const lines = Math.max(...COLUMNS.map((column, n) => linesOf(row[column.id], { width_mm: widths[n] as number, size_pt })))
  return lines * size_pt * MM_PER_PT * LEADING + 2 * ROW_PAD_mm
}

function dealt(
  rows: readonly ChartRow[],
  given: { readonly size: CardSize; readonly size_pt: number; readonly around: readonly string[]; readonly linesOf: LinesOf },
): readonly (readonly ChartRow[])[] {
  const { size, size_pt, linesOf } = given
  const within_mm = size.width_mm - 2 * size.margin_mm
  const around = given.around.reduce((sum, text) => sum + linesOf(text, { width_mm: within_mm, size_pt }), 0)
  // The head of the columns is one row more.
  const room_mm = size.height_mm - 2 * size.margin_mm - (around + 1) * size_pt * MM_PER_PT * LEADING - 3 * ROW_PAD_mm
  const cards: ChartRow[][] = []
  let used_mm = Number.POSITIVE_INFINITY
  for (const row of rows) {
    const height_mm = rowHeight_mm(row, given)
    if (used_mm + height_mm > room_mm) {
      cards.push([])
      used_mm = 0
    }
    cards.at(-1)?.push(row)
    used_mm += height_mm
  }
  return cards
}

/**
 * Lines by a width of 0.6 of the size for each character, which is no less than that of the sans typefaces systems come with
 * (0.5 to 0.6 on average for running text): the browser's own type is not known here.
 */
export function roughLines(text: string, given: { readonly width_mm: number; readonly size_pt: number }): number {
  const most = Math.max(1, Math.floor(given.width_mm / (0.6 * given.size_pt * MM_PER_PT)))
  let lines = 1
  let used = 0
  for (const word of text.split(' ')) {
    const over = used + (used > 0 ? 1 : 0) + word.length > most
    if (over && used > 0) {
      lines++
      used = 0
    }
    lines += Math.max(0, Math.ceil(word.length / most) - 1)
    used = word.length > most ? word.length % most : used + (used > 0 ? 1 : 0) + word.length
  }
  return lines
}
