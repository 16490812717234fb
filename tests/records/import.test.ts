import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join as path } from 'node:path'
import { describe, expect, it, vi } from 'vitest'
import { fixedClock } from '../../server/records/clock.ts'
import { closeDatabase, openDatabase } from '../../server/records/database.ts'
import { documentOn } from '../../server/records/document-of.ts'
import type { VehicleDocument } from '../../server/records/engine-types.ts'
import { entriesOf, entryOf } from '../../server/records/journal.ts'
import { reportOn } from '../../server/records/projection.ts'
import { importDocument, vehicleOf } from '../../server/records/vehicles.ts'
import { household, openBook, rowCounts, value } from './book.ts'

vi.mock('../../server/engine/rules/check.ts', async () => await import('./plain-judge.ts'))
vi.mock('../../server/engine/compare.ts', async () => await import('./plain-judge.ts'))

const found: VehicleDocument = {
  format: 'loombook-vehicle/1',
  vehicle: { name: 'Wren', systemVoltage_V: 12, reserve_h: 6, fuelDemand: { power_kW: 40, fuel: 'petrol' } },
  zones: [{ key: 'bay', name: 'Bay', ambient_degC: 85, evidence: { ambient_degC: 'measured' } }],
  parts: [
    { key: 'p1', kind: 'battery', name: 'Battery', ratings: { openCircuit_V: 12.7 }, evidence: { openCircuit_V: 'measured' } },
    { key: 'p2', kind: 'fuse', name: 'Fuse', ratings: { rated_A: 10 } },
    { key: 'p3', kind: 'load', name: 'Lamp', ratings: { behaviour: 'power', power_W: 55, rated_V: 12 } },
    { key: 'p4', kind: 'conductor', name: 'Wire', ratings: { size: { system: 'AWG', name: '14' } } },
    { key: 'p5', kind: 'pump', name: 'Pump', ratings: { current_A: 4 } },
    { key: 'p6', kind: 'hose', name: 'Hose', ratings: { bore_mm: 8 } },
  ],
  components: [
    { key: 'bat', name: 'Battery', part: 'p1', zone: 'bay' },
    { key: 'f1', name: 'Lamp fuse', part: 'p2', position: '1' },
    {
      key: 'w1',
      name: 'Lamp wire',
      part: 'p4',
      length_m: 2.5,
      parallel: 2,
      bundle: 3,
      colour: 'RD',
      fittings: { a: { terminal: 'ring', tool: 'ratchet' } },
    },
    { key: 'lamp', name: 'Lamp', part: 'p3', unfinished: 'not traced' },
    { key: 'pump', name: 'Pump', part: 'p5', setPressure_kPa: 300 },
    { key: 'hose', name: 'Hose', part: 'p6', length_m: 1, placement: 'chassis' },
  ],
  joins: [
    { from: 'bat:+', to: 'f1:in', resistance_ohm: 0.0002 },
    { from: 'f1:out', to: 'w1:a' },
    { from: 'w1:b', to: 'lamp:+' },
    { from: 'lamp:-', to: 'bat:-' },
    { from: 'hose:b', to: 'pump:inlet' },
  ],
  conditions: [
    { key: 'all', name: 'All', engine: 'off' },
    { key: 'night', name: 'Night', engine: 'off', on: ['lamp'], open: ['f1'], charge_A: 5 },
  ],
}

/** The document with its parts called by their names, which are all different here, and in their order. */
function byName(document: VehicleDocument): unknown {
  const names = new Map(document.parts.map((part) => [part.key, part.name]))
  return {
    ...document,
    parts: document.parts
      .map((part) => ({ ...part, key: part.name, evidence: part.evidence ?? {} }))
      .sort((a, b) => (a.key < b.key ? -1 : 1)),
    components: document.components.map((component) => ({ ...component, part: names.get(component.part) })),
  }
}

describe('a document taken in', () => {
  it('is one entry, and gives the same wiring back', () => {
    const book = openBook()
    const { vehicleId, entryId } = value(importDocument(book.db, book.clock, book.actor, found, '2024-05-01'))
    expect(entryOf(book.db, book.actor, entryId)).toMatchObject({ title: 'Recorded as found', effectiveOn: '2024-05-01' })
    expect(entriesOf(book.db, book.actor, vehicleId)).toHaveLength(1)
    expect(byName(documentOn(book.db, book.actor, vehicleId))).toEqual(byName(found))
    expect(documentOn(book.db, book.actor, vehicleId, '2024-04-30').components).toEqual([])
    expect(vehicleOf(book.db, book.actor, vehicleId)?.firstOn).toBe('2024-05-01')
    const again = value(importDocument(book.db, book.clock, book.actor, found, '2024-05-01'))
    expect(documentOn(book.db, book.actor, again.vehicleId).parts).toEqual(documentOn(book.db, book.actor, vehicleId).parts)
  })

  const wrong: [string, VehicleDocument][] = [
    ['a join to nothing', { ...found, joins: [...found.joins, { from: 'f9:in', to: 'bat:+' }] }],
    ['fluid tied to current', { ...found, joins: [...found.joins, { from: 'hose:a', to: 'bat:+' }] }],
    ['a part of no kind', { ...found, parts: [...found.parts, { key: 'p9', kind: 'motor', name: 'M', ratings: {} }] }],
    ['a component twice', { ...found, components: [...found.components, { key: 'bat', name: 'B', part: 'p1' }] }],
    ['a part that is not listed', { ...found, components: [...found.components, { key: 'x', name: 'X', part: 'p77' }] }],
    ['a name of nothing', { ...found, vehicle: { name: ' ', systemVoltage_V: 12 } }],
  ]
  it.each(wrong)('with %s is refused, and nothing of it is stored', (_name, document) => {
    const book = openBook()
    const before = rowCounts(book.db)
    expect(importDocument(book.db, book.clock, book.actor, document, '2024-05-01').ok).toBe(false)
    expect(rowCounts(book.db)).toEqual(before)
  })

  it('is still there, judged, when the file is opened again', () => {
    const folder = mkdtempSync(path(tmpdir(), 'records-'))
    const clock = fixedClock('2026-06-01T12:00:00Z')
    const first = openDatabase(path(folder, 'book.db'))
    const actor = household(first, clock, 'Robin')
    const { vehicleId } = value(importDocument(first, clock, actor, found, '2024-05-01'))
    const before = reportOn(first, actor, vehicleId)
    closeDatabase(first)
    const again = openDatabase(path(folder, 'book.db'))
    expect(reportOn(again, actor, vehicleId)).toEqual(before)
    expect(documentOn(again, actor, vehicleId)).toEqual(before.document)
    closeDatabase(again)
    rmSync(folder, { recursive: true })
  })
})
