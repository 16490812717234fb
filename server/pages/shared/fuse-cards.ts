/** Past 200 lines: what a page and what a PDF file say of a card is reckoned in one place. A fuse chart on cards: which rows stand on which card, and in what size of type, so that none falls below what can be read and none is cut off. */
import { dateWords } from '../../web/format.ts'
import type { FuseBox, FuseRow } from './fuse-boxes.ts'

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

export function cardNamed(asked: unknown): CardName {
  return typeof asked === 'string' && Object.hasOwn(CARD_SIZES, asked) ? (asked as CardName) : 'card'
}

export type ColumnId = 'position' | 'rating' | 'colour' | 'feeds' | 'wire' | 'spare'
export type Column = { readonly id: ColumnId; readonly label: string; readonly share: number }
/** The shares, of a hundred, stand in `static/on-paper.css` too. The rating's holds "(assumed)" whole, in the type of PDF files even at 8 pt. */
export const COLUMNS: readonly Column[] = [
  { id: 'position', label: 'Fuse', share: 15 },
  { id: 'rating', label: 'Rated', share: 17.5 },
  { id: 'colour', label: 'Colour', share: 14 },
  { id: 'feeds', label: 'Feeds', share: 27.5 },
  { id: 'wire', label: 'Wire', share: 15 },
  { id: 'spare', label: 'Spare', share: 11 },
]

/** Where spares on the shelf are nobody's business, what they leave goes to the feeds. */
export const WITHOUT_SPARES: readonly Column[] = COLUMNS.filter((column) => column.id !== 'spare').map((column) =>
  column.id === 'feeds' ? { ...column, share: column.share + 11 } : column,
)

const FIGURES: readonly ColumnId[] = ['rating', 'wire']

export type ChartRow = Readonly<Record<ColumnId, string>>
/** `isCut`: not all of every text stands. */
export type Cards = { readonly size_pt: number; readonly cards: readonly (readonly ChartRow[])[]; readonly isCut: boolean }

type Setting = { readonly width_mm: number; readonly size_pt: number; readonly isStrong: boolean }
/** How many lines a text takes in a column of that width. */
export type LinesOf = (text: string, given: Setting) => number

export const LEADING = 1.15
const MM_PER_PT = 25.4 / 72
/** above and below the text of a row */
export const ROW_PAD_mm = 0.35
export const GAP_mm = 1

/** The cards of a box as a page prints them. */
export type CardsView = {
  readonly hasSpares: boolean
  readonly heads: readonly string[]
  readonly cards: readonly {
    /** told apart on the page */
    readonly n: string
    readonly title: string
    readonly type: string
    readonly rows: readonly { readonly position: string; readonly cells: readonly string[] }[]
    readonly foot: string
  }[]
  /** where they are several, and where something is cut */
  readonly split: string
}

export function cardsView(given: {
  readonly vehicle: string
  readonly box: FuseBox
  /** among the boxes of the page */
  readonly place: number
  readonly size: CardName
  readonly columns: readonly Column[]
  /** YYYY-MM-DD */
  readonly on: string
  readonly isWhole: boolean
}): CardsView {
  const { vehicle, box, place, size, columns, on } = given
  const rows = box.rows.map((row) => chartRow(row, given))
  const plan = planCards(rows, { size: CARD_SIZES[size], columns, around: aroundOf(given), linesOf: roughLines })
  const count = plan.cards.length
  const [, ...others] = columns
  return {
    hasSpares: columns.some((column) => column.id === 'spare'),
    heads: columns.map((column) => column.label),
    cards: plan.cards.map((rows, n) => ({
      n: `${place}-${n + 1}`,
      title: cardTitle({ vehicle, box: box.name, n, count }),
      type: `pt${plan.size_pt * 10}`,
      rows: rows.map((row) => ({ position: row.position, cells: others.map((column) => row[column.id]) })),
      foot: cardFoot(on),
    })),
    split: [
      count > 1
        ? `Too much for one card of ${CARD_SIZES[size].name} that can be read: it goes over ${count} cards, set in ${plan.size_pt} pt.`
        : '',
      plan.isCut
        ? `Texts that end in “…” are cut to fit${size === 'card' ? `; a card of ${CARD_SIZES.a5.name} holds more of them` : ''}.`
        : '',
    ]
      .filter((one) => one !== '')
      .join(' '),
  }
}

/** A text on a lid is short: four names at most, and how many more there are. `isWhole`: every name, where nothing else on the page tells them. */
export function chartRow(row: FuseRow, given: { readonly isWhole: boolean } = { isWhole: false }): ChartRow {
  const [first = '', ...rest] = row.feeds
  const shown = given.isWhole ? row.feeds : [first, ...rest.slice(0, rest.length > 3 ? 2 : 3)]
  const more = row.feeds.length - shown.length
  return {
    position: row.position === row.name || row.position === '' ? row.name : `${row.position} ${row.name}`,
    rating: unbroken(row.rating),
    colour: row.colour === '' ? 'none' : row.colour,
    feeds: shown.join('; ') + (more > 0 ? `; and ${more} more` : ''),
    wire: unbroken(row.wire),
    spare: row.spare,
  }
}

/** A figure and its unit stay together. */
function unbroken(text: string): string {
  return text.replaceAll(/(\d) (A|mm²)/g, '$1\u00a0$2')
}

export function cardTitle(given: { readonly vehicle: string; readonly box: string; readonly n: number; readonly count: number }): string {
  return `${given.vehicle} · ${given.box}${given.count > 1 ? ` · card ${given.n + 1} of ${given.count}` : ''}`
}

export function cardFoot(on: string): string {
  return `${dateWords(on)} · the number on the fuse decides, not its colour`
}

/** What stands above the rows and below them, each on lines of its own. */
export type Around = { readonly title: string; readonly foot: string }

/** At its longest. */
export function aroundOf(given: { readonly vehicle: string; readonly box: Pick<FuseBox, 'name'>; readonly on: string }): Around {
  return { title: cardTitle({ vehicle: given.vehicle, box: given.box.name, n: 8, count: 9 }), foot: cardFoot(given.on) }
}

type Planned = {
  readonly size: CardSize
  readonly columns: readonly Column[]
  readonly around: Around
  readonly linesOf: LinesOf
}

/**
 * On one card in the first size in which no head of a column and no word of a rating or a wire is broken and all rows fit; else on several, in the first size
 * in which the longest row fits on a card. Where it fits in none, its texts are cut in the smallest, each cut ending in an ellipsis. A word without a digit
 * that no size holds is broken, and takes no part in the choice.
 */
export function planCards(rows: readonly ChartRow[], given: Planned): Cards {
  const { size, columns } = given
  const widths = columnWidths_mm(given)
  const isLine = (text: string, n: number, set: { readonly size_pt: number; readonly isStrong: boolean }) =>
    given.linesOf(text, { width_mm: widths[n] as number, ...set }) === 1
  const isWhole = (size_pt: number, words: RegExp) =>
    columns.every(
      (column, n) =>
        isLine(column.label, n, { size_pt, isStrong: true }) &&
        (!FIGURES.includes(column.id) ||
          rows.every((row) =>
            row[column.id].split(' ').every((word) => !words.test(word) || isLine(word, n, { size_pt, isStrong: false })),
          )),
    )
  const fits = (size_pt: number) => rows.every((row) => rowHeight_mm(row, { ...given, size_pt }) <= room_mm({ ...given, size_pt }))
  const sizes_pt = [/./, /\d/].map((words) => size.sizes_pt.filter((one) => isWhole(one, words))).find((held) => held.length > 0) ?? []
  for (const size_pt of sizes_pt) {
    const cards = dealt(rows, { ...given, size_pt })
    if (cards.length <= 1 && fits(size_pt)) return { size_pt, cards, isCut: false }
  }
  for (const size_pt of size.sizes_pt.filter((one) => one <= size.splitAt_pt))
    if (fits(size_pt)) return { size_pt, cards: evenly(rows, { ...given, size_pt }), isCut: false }
  const size_pt = size.sizes_pt.at(-1) as number
  return {
    size_pt,
    cards: evenly(
      rows.map((row) => cutToFit(row, { ...given, size_pt })),
      { ...given, size_pt },
    ),
    isCut: true,
  }
}

/** Shares of the whole width, as a table's columns have them; the gap to the next is a column's own. */
export function columnWidths_mm({ size, columns }: Pick<Planned, 'size' | 'columns'>): readonly number[] {
  const shares = columns.reduce((sum, column) => sum + column.share, 0)
  const within_mm = size.width_mm - 2 * size.margin_mm
  return columns.map((column, n) => (within_mm * column.share) / shares - (n < columns.length - 1 ? GAP_mm : 0))
}

type Sized = Planned & { readonly size_pt: number }

function linesOfCells(row: ChartRow, given: Sized): readonly number[] {
  const widths = columnWidths_mm(given)
  return given.columns.map((column, n) =>
    given.linesOf(row[column.id], { width_mm: widths[n] as number, size_pt: given.size_pt, isStrong: false }),
  )
}

function rowHeight_mm(row: ChartRow, given: Sized): number {
  return Math.max(...linesOfCells(row, given)) * given.size_pt * MM_PER_PT * LEADING + 2 * ROW_PAD_mm
}

/** What a card has left for its rows. */
function room_mm({ size, size_pt, around, linesOf }: Sized): number {
  const width_mm = size.width_mm - 2 * size.margin_mm
  const lines = linesOf(around.title, { width_mm, size_pt, isStrong: true }) + linesOf(around.foot, { width_mm, size_pt, isStrong: false })
  // The head of the columns is one row more.
  return size.height_mm - 2 * size.margin_mm - (lines + 1) * size_pt * MM_PER_PT * LEADING - 3 * ROW_PAD_mm
}

/** As many cards as it takes, none of them much fuller than the others. */
function evenly(rows: readonly ChartRow[], given: Sized): readonly (readonly ChartRow[])[] {
  const most_mm = room_mm(given)
  const full = dealt(rows, given)
  const all_mm = rows.reduce((sum, row) => sum + rowHeight_mm(row, given), 0)
  for (let upTo_mm = all_mm / full.length; upTo_mm < most_mm; upTo_mm += 1) {
    const cards = dealt(rows, given, upTo_mm)
    if (cards.length === full.length) return cards
  }
  return full
}

function dealt(rows: readonly ChartRow[], given: Sized, upTo_mm = room_mm(given)): readonly (readonly ChartRow[])[] {
  const cards: ChartRow[][] = []
  let used_mm = Number.POSITIVE_INFINITY
  for (const row of rows) {
    const height_mm = rowHeight_mm(row, given)
    if (used_mm + height_mm > upTo_mm) {
      cards.push([])
      used_mm = 0
    }
    cards.at(-1)?.push(row)
    used_mm += height_mm
  }
  return cards
}

/** The longest of its texts shortened until the row fits on a card by itself. */
function cutToFit(row: ChartRow, given: Sized): ChartRow {
  const most_mm = room_mm(given)
  const cut = { ...row }
  while (rowHeight_mm(cut, given) > most_mm) {
    const lines = linesOfCells(cut, given)
    const { id } = given.columns[lines.indexOf(Math.max(...lines))] as Column
    const letters = [...cut[id].replace(/…$/, '')]
    if (letters.length < 12) break
    cut[id] = `${letters.slice(0, -8).join('').trimEnd()}…`
  }
  return cut
}

/**
 * Lines by a width of 0.6 of the size for each character, which is no less than that of the sans typefaces systems come with
 * (0.5 to 0.6 on average for running text), and of 0.64 where it is strong: the browser's own type is not known here.
 */
export const roughLines: LinesOf = (text, given) => {
  const most = Math.max(1, Math.floor(given.width_mm / ((given.isStrong ? 0.64 : 0.6) * given.size_pt * MM_PER_PT)))
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
