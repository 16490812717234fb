/** The wiring drawing of a document: planned, laid out, put on sheets. */
import { type PlacedPiece, placedOf, graphOf, type Point } from './layout.ts'
import type { Layouts } from './layouts.ts'
import { type Linked, linksOf } from './links.ts'
import { planOf, type Words } from './plan.ts'
import { isTooLarge, referenceOf, type Sheet, sheetsOf } from './sheets.ts'
import type { VehicleDocument } from '../engine/vehicle.ts'

export type Drawing = {
  readonly sheets: readonly Sheet[]
  readonly linked: Linked
  /** "2.C4" by the id of a node, and by the component drawn as a symbol or wire */
  readonly placeOfNode: ReadonlyMap<string, string>
  readonly placeOf: ReadonlyMap<string, string>
}

/** Symbols in one piece to begin with; halved for a piece that does not fit a sheet, down to the least. */
const MOST_SYMBOLS = 28
const LEAST_SYMBOLS = 4
const ROUNDS = 4

export async function wiringDrawing(document: VehicleDocument, words: Words, layouts: Layouts): Promise<Drawing> {
  const linked = linksOf(document)
  const most = new Map<string, number>()
  let placed: readonly PlacedPiece[] = []
  for (let round = 0; round < ROUNDS; round++) {
    const { pieces } = planOf(linked, words, (piece) => most.get(piece) ?? MOST_SYMBOLS)
    const graphs = await layouts.place(pieces.map(graphOf))
    placed = pieces.map((piece, n) => placedOf(piece, graphs[n] as (typeof graphs)[number]))
    const large = placed.filter((one) => isTooLarge(one) && one.members.length > LEAST_SYMBOLS)
    if (large.length === 0) break
    for (const one of large) {
      const name = one.id.split('+')[0] as string
      most.set(name, Math.min(most.get(name) ?? MOST_SYMBOLS, Math.max(LEAST_SYMBOLS, Math.ceil(one.members.length / 2))))
    }
  }
  const sheets = sheetsOf(placed)
  return { sheets, linked, ...placesOf(sheets) }
}

function placesOf(sheets: readonly Sheet[]): Pick<Drawing, 'placeOfNode' | 'placeOf'> {
  const placeOfNode = new Map<string, string>()
  const placeOf = new Map<string, string>()
  for (const sheet of sheets)
    for (const piece of sheet.pieces) {
      const on = (at: Point) => referenceOf(sheet.number, { x: piece.at.x + at.x * piece.scale, y: piece.at.y + at.y * piece.scale })
      for (const node of piece.nodes) {
        const where = on({ x: node.at.x + node.width / 2, y: node.at.y + node.height / 2 })
        placeOfNode.set(node.id, where)
        if (node.component !== null && (node.role === 'symbol' || (node.role === 'ground' && !placeOf.has(node.component))))
          placeOf.set(node.component, where)
      }
      for (const wire of piece.wires) {
        const at = wire.label ?? wire.path[0]
        if (wire.conductor !== null && at) placeOf.set(wire.conductor, on(at))
      }
    }
  return { placeOfNode, placeOf }
}
