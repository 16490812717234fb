/** The same cards as a PDF file, each page of exactly the card's size. */
import type { FuseBox } from '../shared/fuse-boxes.ts'
import {
  aroundOf,
  CARD_SIZES,
  type CardName,
  COLUMNS,
  cardFoot,
  cardTitle,
  chartRow,
  columnWidths_mm,
  GAP_mm,
  LEADING,
  type LinesOf,
  planCards,
  ROW_PAD_mm,
} from '../shared/fuse-cards.ts'
import { finished, newPdf } from '../shared/pdf.ts'
import { type Face, type Type, typeOf } from '../shared/pdf-type.ts'

const PT_PER_MM = 72 / 25.4

export async function chartPdf(given: {
  readonly vehicle: string
  readonly box: FuseBox
  readonly size: CardName
  readonly on: string
  readonly at: Date
}): Promise<Buffer> {
  const { box } = given
  const size = CARD_SIZES[given.size]
  const size_pt = [size.width_mm * PT_PER_MM, size.height_mm * PT_PER_MM] as const
  const doc = await newPdf({ title: `Fuse chart: ${box.name}, ${given.vehicle}`, size_pt, at: given.at })
  const type = typeOf(doc)
  const linesOf: LinesOf = (text, { width_mm, size_pt, isStrong }) =>
    type.wrap(text, { face: isStrong ? 'strong' : 'plain', size_pt, width_pt: width_mm * PT_PER_MM }).length
  const rows = box.rows.map((row) => chartRow(row))
  const plan = planCards(rows, { size, columns: COLUMNS, around: aroundOf(given), linesOf })
  const root = doc.struct('Document')
  doc.addStructure(root)
  const left_pt = size.margin_mm * PT_PER_MM
  const widths_pt = columnWidths_mm({ size, columns: COLUMNS }).map((width_mm) => width_mm * PT_PER_MM)
  const within_pt = size_pt[0] - 2 * left_pt
  plan.cards.forEach((rows, n) => {
    if (n > 0) doc.addPage()
    const line_pt = plan.size_pt * LEADING
    let y_pt = left_pt
    const say = (tag: string, text: string, face: Face): void => {
      const lines = type.wrap(text, { face, size_pt: plan.size_pt, width_pt: within_pt })
      const element = doc.struct(tag)
      root.add(element)
      const top_pt = y_pt
      element.add(() => {
        lines.forEach((line, at) => {
          type.set(line, { x_pt: left_pt, y_pt: top_pt + at * line_pt, size_pt: plan.size_pt })
        })
      })
      element.end()
      y_pt += lines.length * line_pt
    }
    say('H1', cardTitle({ vehicle: given.vehicle, box: box.name, n, count: plan.cards.length }), 'strong')
    const table = doc.struct('Table')
    root.add(table)
    const rowAt = (cells: readonly string[], face: Face, tag: 'TH' | 'TD'): void => {
      const tr = doc.struct('TR')
      table.add(tr)
      const height_pt = row(doc, { type, cells, face, tag, tr, left_pt, widths_pt, y_pt, size_pt: plan.size_pt })
      tr.end()
      y_pt += height_pt
      doc.markContent('Artifact', { type: 'Layout' })
      doc
        .moveTo(left_pt, y_pt)
        .lineTo(left_pt + within_pt, y_pt)
        .lineWidth(0.2)
        .strokeColor('#000000')
        .stroke()
      doc.endMarkedContent()
    }
    rowAt(
      COLUMNS.map((column) => column.label),
      'strong',
      'TH',
    )
    for (const one of rows)
      rowAt(
        COLUMNS.map((column) => one[column.id]),
        'plain',
        'TD',
      )
    table.end()
    y_pt += ROW_PAD_mm * PT_PER_MM
    say('P', cardFoot(given.on), 'plain')
  })
  root.end()
  return finished(doc)
}

function row(
  doc: PDFKit.PDFDocument,
  given: {
    readonly type: Type
    readonly cells: readonly string[]
    readonly face: Face
    readonly tag: 'TH' | 'TD'
    readonly tr: ReturnType<PDFKit.PDFDocument['struct']>
    readonly left_pt: number
    readonly widths_pt: readonly number[]
    readonly y_pt: number
    readonly size_pt: number
  },
): number {
  const { type, size_pt, face } = given
  const line_pt = size_pt * LEADING
  const pad_pt = ROW_PAD_mm * PT_PER_MM
  let x_pt = given.left_pt
  let most = 1
  given.cells.forEach((text, n) => {
    const width_pt = given.widths_pt[n] as number
    const lines = type.wrap(text, { face, size_pt, width_pt })
    const cell = doc.struct(given.tag, given.tag === 'TH' ? ({ scope: 'Column' } as never) : {})
    given.tr.add(cell)
    const left_pt = x_pt
    cell.add(() => {
      lines.forEach((line, at) => {
        type.set(line, { x_pt: left_pt, y_pt: given.y_pt + pad_pt + at * line_pt, size_pt })
      })
    })
    cell.end()
    x_pt += width_pt + GAP_mm * PT_PER_MM
    most = Math.max(most, lines.length)
  })
  return most * line_pt + 2 * pad_pt
}
