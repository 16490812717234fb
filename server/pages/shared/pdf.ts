/**
 * Past 200 lines: one set of ways to lay blocks on pages. A printed document as a PDF file: real text in an embedded typeface, tagged,
 * with an outline and page x of y. Between blocks others are let through, so that a long document holds nobody up.
 */
import { setImmediate } from 'node:timers/promises'
import type { Block, Section, Table } from './paper.ts'
import { setDrawing, sizeOfDrawing } from './pdf-drawing.ts'
import { type Face, type Line, type Type, typeOf } from './pdf-type.ts'

/** Points of 1/72 inch. ISO 216 A4, and the Letter size of North America. */
export const PAPERS = { a4: { width_pt: 595.28, height_pt: 841.89 }, letter: { width_pt: 612, height_pt: 792 } } as const
export type Paper = keyof typeof PAPERS

const MARGIN_pt = 42
const FOOT_pt = 22
const LEADING = 1.32
const GAP_pt = 6
const PAD_pt = 2.5

type Sheet = {
  readonly doc: PDFKit.PDFDocument
  readonly type: Type
  readonly width_pt: number
  readonly bottom_pt: number
  y_pt: number
}
type Structure = ReturnType<PDFKit.PDFDocument['struct']>

/** The file's bytes. `foot` stands at the foot of each page, beside its number. */
export async function pdfOf(given: {
  readonly title: string
  readonly lead: string
  readonly foot: string
  readonly sections: readonly Section[]
  readonly paper: Paper
  /** when it was made, so that the same record makes the same file */
  readonly at: Date
}): Promise<Buffer> {
  const { width_pt, height_pt } = PAPERS[given.paper]
  const doc = await newPdf({ title: given.title, size_pt: [width_pt, height_pt], at: given.at })
  const type = typeOf(doc)
  const sheet: Sheet = { doc, type, width_pt: width_pt - 2 * MARGIN_pt, bottom_pt: height_pt - MARGIN_pt - FOOT_pt, y_pt: MARGIN_pt }
  const root = doc.struct('Document')
  doc.addStructure(root)
  paragraph(sheet, root, { tag: 'H1', text: given.title, size_pt: 20, face: 'strong', after_pt: 4 })
  paragraph(sheet, root, { tag: 'P', text: given.lead, size_pt: 9.5, face: 'plain', after_pt: 6 })
  for (const section of given.sections) {
    const part = doc.struct('Sect', { title: section.title })
    root.add(part)
    sheet.y_pt += 10
    roomFor(sheet, 80)
    doc.outline.addItem(section.title, { top: sheet.y_pt } as never)
    paragraph(sheet, part, { tag: 'H2', text: section.title, size_pt: 13, face: 'strong', after_pt: 2 })
    ruleBelow(sheet, 0.8)
    sheet.y_pt += 5
    for (const block of section.blocks) {
      await place(sheet, part, block)
      await setImmediate()
    }
    part.end()
  }
  if (type.lacked()) {
    sheet.y_pt += 10
    const text = '\uFFFD stands for a character that the typeface of this file lacks; the page it was made from shows it.'
    paragraph(sheet, root, { tag: 'P', text, size_pt: 9, face: 'plain', after_pt: 0 })
  }
  root.end()
  feet(sheet, given.foot)
  return finished(doc)
}

/** An empty document, tagged, in English, with its title shown. The library is read with the first one: 20 MB that many never ask for. */
export async function newPdf(given: {
  readonly title: string
  readonly size_pt: readonly [number, number]
  readonly at: Date
}): Promise<PDFKit.PDFDocument> {
  const { default: PDFDocument } = await import('pdfkit')
  return new PDFDocument({
    size: [...given.size_pt],
    margin: 0,
    bufferPages: true,
    pdfVersion: '1.7',
    tagged: true,
    displayTitle: true,
    lang: 'en-GB',
    info: { Title: given.title, Creator: 'Loombook', Producer: 'Loombook', CreationDate: given.at },
  })
}

/** Ends the document and gathers its bytes. */
export function finished(doc: PDFKit.PDFDocument): Promise<Buffer> {
  const pieces: Buffer[] = []
  return new Promise((resolve, reject) => {
    doc.on('data', (piece: Buffer) => void pieces.push(piece))
    doc.on('end', () => resolve(Buffer.concat(pieces)))
    doc.on('error', reject)
    doc.end()
  })
}

async function place(sheet: Sheet, part: Structure, block: Block): Promise<void> {
  if (block.kind === 'words') paragraph(sheet, part, { tag: 'P', text: block.text, size_pt: 9.5, face: 'plain', after_pt: 5 })
  else if (block.kind === 'list') list(sheet, part, block.items)
  else if (block.kind === 'facts') await table(sheet, part, factsTable(block.facts))
  else if (block.kind === 'table') await table(sheet, part, block)
  else if (block.kind === 'entries') await entries(sheet, part, block.entries)
  else drawing(sheet, part, block)
}

/** A paragraph of so many lines is not broken. */
const KEPT_LINES = 4

type Said = { readonly text: string; readonly size_pt: number; readonly face: Face; readonly after_pt: number; readonly indent_pt?: number }

function paragraph(sheet: Sheet, parent: Structure, given: Said & { readonly tag: string }): void {
  const { size_pt, face, after_pt, indent_pt = 0 } = given
  const lines = sheet.type.wrap(given.text, { face, size_pt, width_pt: sheet.width_pt - indent_pt })
  const element = sheet.doc.struct(given.tag)
  parent.add(element)
  // Few lines stay together; of many, no one is left alone at the foot of a page or at the head of the next.
  roomFor(sheet, (lines.length <= KEPT_LINES ? lines.length : 2) * size_pt * LEADING)
  // Lines that stay together on a page are one piece of marked content.
  for (let n = 0; n < lines.length; ) {
    const fits = Math.max(1, Math.floor((sheet.bottom_pt - sheet.y_pt) / (size_pt * LEADING)))
    const now = lines.slice(n, n + (lines.length - n - fits === 1 && fits > 2 ? fits - 1 : fits))
    element.add(() => {
      for (const line of now) {
        sheet.type.set(line, { x_pt: MARGIN_pt + indent_pt, y_pt: sheet.y_pt, size_pt })
        sheet.y_pt += size_pt * LEADING
      }
    })
    n += now.length
    if (n < lines.length) newPage(sheet)
  }
  element.end()
  sheet.y_pt += after_pt
}

function list(sheet: Sheet, part: Structure, items: readonly string[]): void {
  const all = sheet.doc.struct('L')
  part.add(all)
  for (const item of items) {
    const one = sheet.doc.struct('LI')
    all.add(one)
    const size_pt = 9.5
    const lines = sheet.type.wrap(item, { face: 'plain', size_pt, width_pt: sheet.width_pt - 12 })
    roomFor(sheet, Math.min(lines.length, 6) * size_pt * LEADING)
    const mark = sheet.doc.struct('Lbl')
    one.add(mark)
    mark.add(() => {
      const line = sheet.type.wrap('·', { face: 'strong', size_pt, width_pt: 12 })[0] as Line
      sheet.type.set(line, { x_pt: MARGIN_pt + 2, y_pt: sheet.y_pt, size_pt })
    })
    mark.end()
    paragraph(sheet, one, { tag: 'LBody', text: item, size_pt, face: 'plain', after_pt: 2, indent_pt: 12 })
    one.end()
  }
  all.end()
  sheet.y_pt += 4
}

async function entries(sheet: Sheet, part: Structure, all: Extract<Block, { kind: 'entries' }>['entries']): Promise<void> {
  for (const entry of all) {
    const lines = sheet.type.wrap(`${entry.when} · ${entry.title}`, { face: 'strong', size_pt: 9.5, width_pt: sheet.width_pt }).length + 2
    roomFor(sheet, Math.min(lines, 8) * 9.5 * LEADING)
    paragraph(sheet, part, { tag: 'H3', text: `${entry.when} · ${entry.title}`, size_pt: 9.5, face: 'strong', after_pt: 0 })
    for (const text of entry.lines) paragraph(sheet, part, { tag: 'P', text, size_pt: 9, face: 'plain', after_pt: 1, indent_pt: 10 })
    sheet.y_pt += 4
    await setImmediate()
  }
}

function factsTable(facts: Extract<Block, { kind: 'facts' }>['facts']): Table {
  return {
    kind: 'table',
    caption: '',
    heads: [
      { label: '', share: 1 },
      { label: '', share: 3 },
    ],
    rows: facts.map((fact) => [fact.label, fact.value]),
  }
}

const CELL_pt = 8.5
const ROWS_AT_ONCE = 8

type Column = { readonly x_pt: number; readonly width_pt: number }

/** Heads again on each page; a row is never cut, unless it is longer than a page. */
async function table(sheet: Sheet, part: Structure, given: Table): Promise<void> {
  const { doc } = sheet
  const columns = columnsOf(sheet, given)
  const line_pt = CELL_pt * LEADING
  const cells = (row: readonly string[], face: Face) =>
    columns.map((column, n) => sheet.type.wrap(row[n] ?? '', { face, size_pt: CELL_pt, width_pt: column.width_pt }))
  const isHeaded = given.heads.some((head) => head.label !== '')
  const heads = cells(
    given.heads.map((head) => head.label),
    'strong',
  )
  const heightOf = (row: readonly (readonly Line[])[]) => Math.max(1, ...row.map((lines) => lines.length)) * line_pt + 2 * PAD_pt
  const headed_pt = isHeaded ? heightOf(heads) : 0
  const rows: (readonly (readonly Line[])[])[] = []
  for (const row of given.rows) {
    rows.push(cells(row, 'plain'))
    if (rows.length % ROWS_AT_ONCE === 0) await setImmediate()
  }
  const element = doc.struct('Table')
  part.add(element)
  roomFor(sheet, (given.caption === '' ? 0 : 16) + headed_pt + Math.min(heightOf(rows[0] ?? []), sheet.bottom_pt / 3))
  if (given.caption !== '') paragraph(sheet, element, { tag: 'Caption', text: given.caption, size_pt: 9.5, face: 'strong', after_pt: 1 })
  const draw = (row: readonly (readonly Line[])[]): readonly (() => void)[] => {
    const top_pt = sheet.y_pt + PAD_pt
    return row.map((lines, n) => () => {
      lines.forEach((line, at) => {
        sheet.type.set(line, { x_pt: columns[n]?.x_pt ?? 0, y_pt: top_pt + at * line_pt, size_pt: CELL_pt })
      })
    })
  }
  const headAgain = (): void => {
    if (!isHeaded) return
    doc.markContent('Artifact', { type: 'Pagination' })
    for (const cell of draw(heads)) cell()
    doc.endMarkedContent()
    sheet.y_pt += headed_pt
    ruleBelow(sheet, 0.8)
  }
  const rowOf = (
    drawn: readonly (() => void)[],
    tagOf: (n: number) => { readonly tag: string; readonly scope?: 'Column' | 'Row' },
  ): void => {
    const tr = doc.struct('TR')
    element.add(tr)
    drawn.forEach((cell, n) => {
      const { tag, scope } = tagOf(n)
      const td = doc.struct(tag, scope === undefined ? {} : ({ scope } as never))
      tr.add(td)
      td.add(cell)
      td.end()
    })
    tr.end()
  }
  if (isHeaded) {
    rowOf(draw(heads), () => ({ tag: 'TH', scope: 'Column' }))
    sheet.y_pt += headed_pt
    ruleBelow(sheet, 0.8)
  }
  for (const [n, whole] of rows.entries()) {
    if (n % ROWS_AT_ONCE === ROWS_AT_ONCE - 1) await setImmediate()
    for (const row of pieces(whole, Math.floor((sheet.bottom_pt - MARGIN_pt - headed_pt - 2 * PAD_pt) / line_pt))) {
      // The last row does not go to the next page alone.
      const last = n > 0 && n === rows.length - 2 ? heightOf(rows[n + 1] ?? []) : 0
      const needed_pt = heightOf(row) + (last < sheet.bottom_pt / 4 ? last : 0)
      if (sheet.y_pt + needed_pt > sheet.bottom_pt) {
        newPage(sheet)
        headAgain()
      }
      rowOf(draw(row), (n) => (n === 0 ? { tag: 'TH', scope: 'Row' } : { tag: 'TD' }))
      sheet.y_pt += heightOf(row)
      ruleBelow(sheet, 0.3)
    }
  }
  element.end()
  sheet.y_pt += 9
}

function columnsOf(sheet: Sheet, given: Table): readonly Column[] {
  const shares = given.heads.reduce((sum, head) => sum + head.share, 0)
  const free_pt = sheet.width_pt - GAP_pt * (given.heads.length - 1)
  let x_pt = MARGIN_pt
  return given.heads.map((head) => {
    const column = { x_pt, width_pt: (free_pt * head.share) / shares }
    x_pt += column.width_pt + GAP_pt
    return column
  })
}

/** A row longer than a page, in pieces that fit. */
function pieces(row: readonly (readonly Line[])[], most: number): readonly (readonly (readonly Line[])[])[] {
  const longest = Math.max(1, ...row.map((lines) => lines.length))
  return Array.from({ length: Math.ceil(longest / most) }, (_, n) => row.map((lines) => lines.slice(n * most, (n + 1) * most)))
}

const DRAWING_MARGIN_pt = 28

/** A drawing on a page of its own, laid across and as large as it goes; what follows begins on a page again. */
function drawing(sheet: Sheet, part: Structure, given: { readonly title: string; readonly svg: string }): void {
  const { doc } = sheet
  const { width, height } = doc.page
  doc.addPage({ size: [Math.max(width, height), Math.min(width, height)], margin: 0 })
  const own = sizeOfDrawing(given.svg)
  const [most_pt, tall_pt] = [doc.page.width - 2 * DRAWING_MARGIN_pt, doc.page.height - DRAWING_MARGIN_pt - MARGIN_pt - FOOT_pt / 2]
  const scale = Math.min(most_pt / own.width, tall_pt / own.height)
  const figure = doc.struct('Figure', { alt: given.title })
  part.add(figure)
  figure.add(() => {
    setDrawing(doc, sheet.type, { svg: given.svg, x_pt: (doc.page.width - own.width * scale) / 2, y_pt: DRAWING_MARGIN_pt, scale })
  })
  figure.end()
  // Full: whatever comes next makes itself a page.
  sheet.y_pt = sheet.bottom_pt
}

function roomFor(sheet: Sheet, height_pt: number): void {
  if (sheet.y_pt > MARGIN_pt && sheet.y_pt + height_pt > sheet.bottom_pt) newPage(sheet)
}

function newPage(sheet: Sheet): void {
  sheet.doc.addPage()
  sheet.y_pt = MARGIN_pt
}

function ruleBelow(sheet: Sheet, width_pt: number): void {
  const { doc, y_pt } = sheet
  doc.markContent('Artifact', { type: 'Layout' })
  doc
    .moveTo(MARGIN_pt, y_pt)
    .lineTo(MARGIN_pt + sheet.width_pt, y_pt)
    .lineWidth(width_pt)
    .strokeColor('#000000')
    .stroke()
  doc.endMarkedContent()
}

function feet(sheet: Sheet, foot: string): void {
  const { doc, type } = sheet
  const { count } = doc.bufferedPageRange()
  const size_pt = 8
  for (let page = 0; page < count; page++) {
    doc.switchToPage(page)
    const y_pt = doc.page.height - MARGIN_pt - size_pt
    const right_pt = doc.page.width - MARGIN_pt
    doc.markContent('Artifact', { type: 'Pagination' })
    const number = type.wrap(`page ${page + 1} of ${count}`, { face: 'plain', size_pt, width_pt: 200 })[0] as Line
    const line = type.wrap(foot, { face: 'plain', size_pt, width_pt: sheet.width_pt - number.width_pt - 20 })[0] as Line
    type.set(line, { x_pt: MARGIN_pt, y_pt, size_pt })
    type.set(number, { x_pt: right_pt - number.width_pt, y_pt, size_pt })
    doc.endMarkedContent()
  }
}
