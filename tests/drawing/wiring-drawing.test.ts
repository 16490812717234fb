import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { type Drawings, startDrawings } from '../../server/drawing/drawings.ts'
import { linksOf } from '../../server/drawing/links.ts'
import { measuresOf } from '../../server/drawing/measure.ts'
import { LEAST_SCALE, SHEET } from '../../server/drawing/sheets.ts'
import type { VehicleDocument } from '../../server/engine/vehicle.ts'
import { drawingWords } from '../../server/pages/shared/wiring-words.ts'
import { reportOn } from '../../server/records/projection.ts'
import { openBook } from '../pages/book.ts'
import { full } from '../document/full-document.ts'

let drawings: Drawings
const documents = new Map<string, VehicleDocument>()
const networks = ['small', 'large', 'generated-03', 'generated-07', 'generated-14']

beforeAll(async () => {
  drawings = startDrawings()
  const book = await openBook()
  for (const id of book.vehicles) {
    const { document } = reportOn(book.db, book.actor, id)
    documents.set(document.vehicle.name, document)
  }
  await book.close()
  for (const name of networks)
    documents.set(name, JSON.parse(readFileSync(join(import.meta.dirname, `../networks/${name}.json`), 'utf8')) as VehicleDocument)
  documents.set('every kind', full())
})
afterAll(() => drawings.close())

/** What each may cross: a drawing that crosses more than one wire in twelve is looked at again. */
test.each(['Bramble', 'Wren', 'Anvil', ...networks, 'every kind'])(
  'the drawing of %s: no wire through a symbol, no label crossed, every sheet legible, everything on it once',
  async (name) => {
    const document = documents.get(name) as VehicleDocument
    const drawing = await drawings.wiring(document, drawingWords(document))
    const pieces = drawing.sheets.flatMap((sheet) => sheet.pieces)
    const measures = pieces.map(measuresOf)
    expect(measures.flatMap((one) => one.faults)).toEqual([])
    const crossings = measures.reduce((sum, one) => sum + one.crossings, 0)
    const wires = measures.reduce((sum, one) => sum + one.wires, 0)
    expect(crossings).toBeLessThanOrEqual(wires / 12)
    const { links, symbols, conductors } = linksOf(document)
    const drawnWires = pieces.flatMap((piece) => piece.wires.flatMap((wire) => wire.conductor ?? []))
    expect(drawnWires.sort()).toEqual([...conductors.keys()].sort())
    const drawn = new Set(pieces.flatMap((piece) => piece.nodes.flatMap((node) => node.component ?? [])))
    expect([...symbols.keys()].filter((key) => !drawn.has(key))).toEqual([])
    const whole = pieces.flatMap((piece) => piece.nodes.filter((node) => node.role === 'symbol').map((node) => node.component as string))
    expect(whole.length).toBe(new Set(whole).size)
    expect(pieces.flatMap((piece) => piece.wires).filter((wire) => !wire.id.endsWith('o')).length).toBe(links.length)
    for (const sheet of drawing.sheets)
      for (const piece of sheet.pieces) {
        expect(piece.scale, piece.id).toBeGreaterThanOrEqual(LEAST_SCALE)
        expect(piece.at.x + piece.width * piece.scale, piece.id).toBeLessThanOrEqual(SHEET.width + 0.01)
        expect(piece.at.y + piece.height * piece.scale, piece.id).toBeLessThanOrEqual(SHEET.height + 0.01)
      }
    // Every reference names a place, and that place names it.
    const nodes = new Map(pieces.flatMap((piece) => piece.nodes.map((node) => [node.id, node] as const)))
    for (const node of nodes.values()) {
      if (node.other === null) continue
      const other = nodes.get(node.other)
      expect(other?.other === node.id || other?.rows.some((row) => row.other === node.id), node.id).toBe(true)
    }
  },
)

test('what bare ends meet in is a joint, and an end that is joined to nothing is open', () => {
  const wire = { key: 'w', kind: 'conductor', name: 'wire', ratings: { crossSection_mm2: 1 } }
  const document: VehicleDocument = {
    format: 'loombook-vehicle/1',
    vehicle: { name: 'Ends', systemVoltage_V: 12 },
    parts: [wire, { key: 'f', kind: 'fuse', name: 'fuse', ratings: {} }],
    components: ['w1', 'w2', 'w3'].map((key) => ({ key, name: key, part: 'w' })).concat({ key: 'f1', name: 'f1', part: 'f' }),
    joins: [
      { from: 'f1:out', to: 'w1:a' },
      { from: 'w1:b', to: 'w2:a' },
      { from: 'w3:a', to: 'w2:a' },
    ],
  }
  const { points, links } = linksOf(document)
  expect([...points.values()].sort()).toEqual(['joint', 'open', 'open'])
  const joint = [...points].find(([, sort]) => sort === 'joint')?.[0]
  expect(links.filter((link) => [link.from, link.to].some((end) => end.component === joint)).map((link) => link.conductor)).toEqual([
    'w1',
    'w2',
    'w3',
  ])
  expect(links.find((link) => link.conductor === 'w1')?.from).toEqual({ component: 'f1', terminal: 'out' })
})

test('the same document is laid out once, another one anew', async () => {
  const document = documents.get('Wren') as VehicleDocument
  const first = drawings.wiring(document, drawingWords(document))
  expect(drawings.wiring(structuredClone(document) as VehicleDocument, drawingWords(document))).toBe(first)
  expect(await drawings.wiring({ ...document, vehicle: { ...document.vehicle, name: 'Other' } }, drawingWords(document))).not.toBe(
    await first,
  )
})
