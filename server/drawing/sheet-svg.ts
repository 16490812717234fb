/** One sheet as SVG: symbols, wires and words, each a link, in one colour, by attributes and classes alone. */

import type { PlacedNode, PlacedPiece, PlacedWire, Point } from './layout.ts'
import { FIGURE, NAME, wrapped } from './plan.ts'
import { SHEET, type Sheet } from './sheets.ts'
import { at, escaped, link, text } from './svg.ts'
import type { Drawing } from './wiring-drawing.ts'

/** What a page tells of a component: in words, and where its own page is; an empty `href` leads nowhere. */
export type Told = {
  readonly symbol: (key: string) => { readonly href: string; readonly title: string }
  readonly wire: (key: string) => { readonly href: string; readonly title: string; readonly isHeavy: boolean }
  /** of a join without a conductor, by its place among the links */
  readonly tie: (n: number) => string
  /** the id in the page of a node of the drawing, which references lead to */
  readonly anchor: (node: string) => string
}

export type Heading = {
  readonly vehicle: string
  readonly what: string
  readonly title: string
  readonly date: string
  readonly describes: string
}

const MARGIN = 28
const FRAME = 18
const STRIP = 36
const WIDTH = SHEET.width + 2 * MARGIN
const HEIGHT = SHEET.height + 2 * MARGIN + STRIP

export function sheetSvg(given: {
  readonly drawing: Drawing
  readonly sheet: Sheet
  readonly told: Told
  readonly heading: Heading
}): string {
  const { drawing, sheet, told, heading } = given
  const id = `sheet-${sheet.number}`
  return [
    `<svg class="drawing" role="group" aria-labelledby="${id}-title ${id}-desc" viewBox="0 0 ${WIDTH} ${HEIGHT}" width="${WIDTH}" height="${HEIGHT}" fill="none" stroke="currentColor" stroke-width="1.3">`,
    `<title id="${id}-title">${escaped(`${heading.what} of ${heading.vehicle}, sheet ${sheet.number} of ${drawing.sheets.length}`)}</title>`,
    `<desc id="${id}-desc">${escaped(heading.describes)}</desc>`,
    frame(),
    strip(heading, { number: sheet.number, of: drawing.sheets.length }),
    ...sheet.pieces.map((piece) => pieceSvg(piece, drawing, told)),
    '</svg>',
  ].join('')
}

function pieceSvg(
  piece: PlacedPiece & { readonly at: { readonly x: number; readonly y: number }; readonly scale: number },
  drawing: Drawing,
  told: Told,
): string {
  const scale = piece.scale < 1 ? ` scale(${piece.scale.toFixed(3)})` : ''
  return [
    `<g transform="translate(${at(MARGIN + piece.at.x)} ${at(MARGIN + piece.at.y)})${scale}">`,
    ...piece.wires.map((wire) => wireSvg(wire, new Map(piece.nodes.map((node) => [node.id, node])), told)),
    ...piece.nodes.map((node) => nodeSvg(node, drawing, told)),
    '</g>',
  ].join('')
}

/** A wire: its line, the dots where it leaves another of its terminal, and what is written on it. */
function wireSvg(wire: PlacedWire, nodes: ReadonlyMap<string, PlacedNode>, told: Told): string {
  const line = toBodies(wire, nodes)
    .map((point, n) => `${n === 0 ? 'M' : 'L'}${at(point.x)} ${at(point.y)}`)
    .join('')
  const dots = wire.dots.map((dot) => `<circle cx="${at(dot.x)}" cy="${at(dot.y)}" r="2.6" fill="currentColor" stroke="none"/>`).join('')
  if (wire.conductor === null) return `<g class="tie">${tieTitle(wire, told)}<path d="${line}"/>${dots}</g>`
  const { href, title, isHeavy } = told.wire(wire.conductor)
  const middle = wire.label ? { x: wire.label.x + wire.label.width / 2, y: wire.label.y + wire.label.height / 2 } : null
  const words = middle
    ? [
        ...wire.above.map((one, n) =>
          text({ x: middle.x, y: middle.y - 4 - (wire.above.length - 1 - n) * FIGURE.line, words: one, look: 'figure', anchor: 'middle' }),
        ),
        ...wire.below.map((one, n) =>
          text({ x: middle.x, y: middle.y + 11 + n * FIGURE.line, words: one, look: 'figure', anchor: 'middle' }),
        ),
      ].join('')
    : ''
  const touch = wire.label
    ? `<rect class="touch" x="${at(wire.label.x)}" y="${at(wire.label.y)}" width="${at(wire.label.width)}" height="${at(wire.label.height)}" stroke="none"/>`
    : ''
  return link({
    href,
    title,
    look: 'wire',
    id: '',
    inside: `${touch}<path d="${line}"${isHeavy ? ' stroke-width="2.4"' : ''}/>${dots}${words}`,
  })
}

/** A stub beside a reference is no join of its own. */
function tieTitle(wire: PlacedWire, told: Told): string {
  return wire.id.endsWith('o') ? '' : `<title>${escaped(told.tie(Number(wire.id.slice(1))))}</title>`
}

/** The wire's corners, its ends drawn on from the boxes' edges to the symbols themselves. */
function toBodies(wire: PlacedWire, nodes: ReadonlyMap<string, PlacedNode>): readonly Point[] {
  const [first, last] = [wire.path[0], wire.path.at(-1)]
  if (!first || !last) return []
  const bodyAt = ({ node, port }: PlacedWire['from'], edge: Point): Point => {
    const there = nodes.get(node)
    const side = there?.shape.ports.find((one) => one.name === port)?.side
    if (!there) return edge
    return { x: there.at.x + there.x + (side === 'left' ? 0 : there.shape.width), y: edge.y }
  }
  return [bodyAt(wire.from, first), ...wire.path.slice(1, -1), bodyAt(wire.to, last)]
}

function nodeSvg(node: PlacedNode, drawing: Drawing, told: Told): string {
  const { shape, above, below } = node
  const place = `translate(${at(node.at.x)} ${at(node.at.y)})`
  if (node.role === 'reference') return referenceSvg(node, drawing, told)
  const body = [
    `<rect class="touch" width="${at(node.width)}" height="${at(node.height)}" stroke="none"/>`,
    `<path transform="translate(${at(node.x)} ${at(node.y)})" d="${shape.lines}"/>`,
    shape.filled ? `<path transform="translate(${at(node.x)} ${at(node.y)})" d="${shape.filled}" fill="currentColor" stroke="none"/>` : '',
    shape.dashed ? `<path transform="translate(${at(node.x)} ${at(node.y)})" d="${shape.dashed}" stroke-dasharray="3 2"/>` : '',
    ...shape.letters.map((one) => text({ x: node.x + one.x, y: node.y + one.y, words: one.text, look: 'letter', anchor: 'middle' })),
    ...shape.ports
      .filter((port) => port.label !== '')
      .map((port) =>
        text({
          x: port.side === 'left' ? node.x + 1 : node.x + shape.width - 1,
          y: node.y + port.y - 3,
          words: port.label,
          look: 'terminal',
          anchor: port.side === 'left' ? 'start' : 'end',
        }),
      ),
    ...words(node, above, below),
  ].join('')
  const { href, title } = node.component === null ? { href: '', title: '' } : told.symbol(node.component)
  const inside = node.component === null ? body : link({ href, title, look: 'symbol', id: told.anchor(node.id), inside: body })
  const rows = node.rows.map((row) => rowSvg({ node, row, drawing, told })).join('')
  return `<g transform="${place}">${inside}${rows}</g>`
}

function words(node: PlacedNode, above: readonly string[], below: readonly string[]): readonly string[] {
  const middle = node.x + node.shape.width / 2
  const isGround = node.role === 'ground'
  const bottom = node.y + node.shape.height
  return [
    ...above.map((one, n) => text({ x: middle, y: 10 + n * NAME.line, words: one, look: 'name', anchor: 'middle' })),
    ...below.map((one, n) =>
      isGround
        ? text({ x: 0, y: bottom + 10 + n * NAME.line, words: one, look: 'name', anchor: 'start' })
        : text({ x: middle, y: bottom + 10 + n * FIGURE.line, words: one, look: 'figure', anchor: 'middle' }),
    ),
  ]
}

/** What hangs on one way of a bar, and where. */
function rowSvg(given: {
  readonly node: PlacedNode
  readonly row: PlacedNode['rows'][number]
  readonly drawing: Drawing
  readonly told: Told
}): string {
  const { node, row, drawing, told } = given
  const port = node.shape.ports.find((one) => one.name === row.port)
  const y = node.y + (port?.y ?? 0)
  const x = node.x + node.shape.width
  const where = drawing.placeOfNode.get(row.other) ?? ''
  return link({
    href: `#${told.anchor(row.other)}`,
    title: `Goes on at ${where}: ${row.words}`,
    look: 'reference',
    id: '',
    inside: [
      `<rect class="touch" x="${at(x)}" y="${at(y - 12)}" width="${at(node.width - x)}" height="24" stroke="none"/>`,
      `<path d="M${at(x)} ${at(y - 4)}L${at(x + 5)} ${at(y)}L${at(x)} ${at(y + 4)}"/>`,
      text({ x: x + 9, y: y + 3.5, words: row.words, look: 'name', anchor: 'start' }),
      text({ x: node.width - 2, y: y + 3.5, words: where, look: 'figure', anchor: 'end' }),
    ].join(''),
  })
}

/** The end of a wire that goes on elsewhere: what is there, and the place on its sheet. */
function referenceSvg(node: PlacedNode, drawing: Drawing, told: Told): string {
  const where = node.other === null ? '' : (drawing.placeOfNode.get(node.other) ?? '')
  const isLeft = node.side === 'right'
  const x = isLeft ? node.x - 3 : node.shape.width + 3
  const anchor = isLeft ? 'end' : 'start'
  const lines = [
    ...node.below.map((one, n) => text({ x, y: 10 + n * NAME.line, words: one, look: 'name', anchor })),
    text({ x, y: 10 + node.below.length * NAME.line, words: where, look: 'figure', anchor }),
  ]
  const title = `${node.component === null ? '' : `${told.symbol(node.component).title}. `}Goes on at ${where}.`
  const inside = [
    `<rect class="touch" width="${at(node.width)}" height="${at(node.height)}" stroke="none"/>`,
    `<path transform="translate(${at(node.x)} ${at(node.y)})" d="${node.shape.lines}"/>`,
    ...lines,
  ].join('')
  return `<g transform="translate(${at(node.at.x)} ${at(node.at.y)})">${link({ href: `#${told.anchor(node.other ?? node.id)}`, title, look: 'reference', id: told.anchor(node.id), inside })}</g>`
}

/** The sheet's edge, marked with the rows and columns that references name. */
function frame(): string {
  const [left, top, right, bottom] = [FRAME, FRAME, WIDTH - FRAME, HEIGHT - FRAME]
  const columns = Array.from({ length: SHEET.columns }, (_, n) => MARGIN + (SHEET.width / SHEET.columns) * n)
  const rows = Array.from({ length: SHEET.rows }, (_, n) => MARGIN + (SHEET.height / SHEET.rows) * n)
  const ticks = [
    ...columns.slice(1).map((x) => `M${at(x)} ${top - 12}V${top}`),
    ...rows.slice(1).map((y) => `M${left - 12} ${at(y)}H${left}`),
  ].join('')
  return [
    `<g class="frame" aria-hidden="true"><path d="M${left} ${top}H${right}V${bottom}H${left}z" stroke-width="1.6"/><path d="${ticks}" stroke-width=".8"/>`,
    ...columns.map((x, n) =>
      text({ x: x + SHEET.width / SHEET.columns / 2, y: top - 5, words: String(n + 1), look: 'terminal', anchor: 'middle' }),
    ),
    ...rows.map((y, n) =>
      text({ x: left - 8, y: y + SHEET.height / SHEET.rows / 2, words: String.fromCharCode(65 + n), look: 'terminal', anchor: 'middle' }),
    ),
    '</g>',
  ].join('')
}

/** The title strip: whose drawing it is, of what, on which day, which sheet. */
function strip(heading: Heading, given: { readonly number: number; readonly of: number }): string {
  const [left, right, bottom] = [FRAME, WIDTH - FRAME, HEIGHT - FRAME]
  const top = bottom - STRIP + 4
  const cells = [
    { x: left, label: 'Vehicle', words: heading.vehicle, letters: 24 },
    { x: left + 170, label: 'Drawing', words: heading.what, letters: 15 },
    { x: left + 286, label: 'Holds', words: heading.title, letters: 72 },
    { x: right - 240, label: 'As of', words: heading.date, letters: 18 },
    { x: right - 100, label: 'Sheet', words: `${given.number} of ${given.of}`, letters: 12 },
  ]
  const lines = [`M${left} ${top}H${right}`, ...cells.slice(1).map((cell) => `M${cell.x} ${top}V${bottom}`)].join('')
  return [
    `<g class="strip" aria-hidden="true"><path d="${lines}" stroke-width="1"/>`,
    ...cells.flatMap((cell) => {
      const [first = '', second] = wrapped(cell.words, cell.letters, 2)
      // Words that need two lines take the label's place: what is held is seen to be that.
      const below = second === undefined ? [25] : [12, 25]
      return [
        ...(second === undefined ? [text({ x: cell.x + 7, y: top + 11, words: cell.label, look: 'terminal', anchor: 'start' })] : []),
        ...[first, ...(second === undefined ? [] : [second])].map((words, n) =>
          text({ x: cell.x + 7, y: top + (below[n] as number), words, look: 'name', anchor: 'start' }),
        ),
      ]
    }),
    '</g>',
  ].join('')
}
