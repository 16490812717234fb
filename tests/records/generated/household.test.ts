import { expect, test } from 'vitest'
import { fixedClock } from '../../../server/records/clock.ts'
import type { Change } from '../../../server/records/contract.ts'
import { type Db, openDatabase } from '../../../server/records/database.ts'
import { generateHousehold } from '../../../server/records/generated/household.ts'
import { append, withdraw } from '../../../server/records/journal.ts'
import { reportOn } from '../../../server/records/projection.ts'
import { fillSearch } from '../../../server/records/search-rows.ts'
import { createVehicle, vehicleOf } from '../../../server/records/vehicles.ts'
import { household, value } from '../book.ts'

const size = { vehicles: 2, entriesPerVehicle: 130, parts: 140, photosPerVehicle: 5 }

type EntryRow = {
  readonly id: string
  readonly corrects_id: string | null
  readonly effective_on: string
  readonly title: string
  readonly text: string
  readonly odometer_km: number | null
  readonly cost_minor: number | null
}

/** What a vehicle's rows say, without the ids that name them. */
function toldOf(db: Db, vehicleId: string) {
  const all = (sql: string) => db.$client.prepare(sql).all(vehicleId)
  return {
    entries: all(
      `SELECT e.effective_on, e.title, e.text, e.odometer_km, e.cost_minor, e.correction, e.shown, c.title AS corrects, e.place_id = e.id AS own
       FROM entries e LEFT JOIN entries c ON c.id = e.corrects_id WHERE e.vehicle_id = ? ORDER BY e.rowid`,
    ),
    changes: all('SELECT position, kind, v, payload FROM changes WHERE vehicle_id = ? ORDER BY rowid'),
    moves: all(
      'SELECT m.part_id, m.by_count FROM stock_moves m JOIN entries e ON e.id = m.entry_id WHERE e.vehicle_id = ? ORDER BY m.rowid',
    ),
    found: all('SELECT kind, title, body FROM search_rows WHERE vehicle_id = ? ORDER BY kind, title, body'),
    parts: all('SELECT part_id FROM projection_parts WHERE vehicle_id = ? ORDER BY part_id'),
  }
}

test('a generated vehicle is, row for row, what entering the same work would have written', () => {
  const db = openDatabase(':memory:')
  const clock = fixedClock('2026-06-01T12:00:00Z')
  const actor = household(db, clock, 'Robin')
  const [first] = generateHousehold(db, clock, actor, size) as [string]
  const again = value(createVehicle(db, clock, actor, { name: 'Vehicle 1', systemVoltage_V: 12 })).id
  const ids = new Map<string, string>()
  const rows = db.$client.prepare('SELECT * FROM entries WHERE vehicle_id = ? ORDER BY rowid').all(first) as EntryRow[]
  for (const row of rows) {
    const changes = db.$client.prepare('SELECT kind, payload FROM changes WHERE entry_id = ? ORDER BY position').all(row.id) as {
      kind: string
      payload: string
    }[]
    if (row.corrects_id !== null) {
      value(withdraw(db, clock, actor, ids.get(row.corrects_id) as string))
      continue
    }
    const entry = {
      vehicleId: again,
      effectiveOn: row.effective_on,
      title: row.title,
      text: row.text,
      odometer_km: row.odometer_km ?? undefined,
      cost_minor: row.cost_minor ?? undefined,
    }
    ids.set(
      row.id,
      value(
        append(db, clock, actor, { ...entry, changes: changes.map(({ kind, payload }) => ({ kind, ...JSON.parse(payload) }) as Change) }),
      ).id,
    )
  }
  expect(rows.length).toBe(130)
  expect(toldOf(db, again)).toEqual(toldOf(db, first))
  const { latest: _, ...facts } = vehicleOf(db, actor, again) ?? { latest: [] }
  const { latest: __, ...same } = vehicleOf(db, actor, first) ?? { latest: [] }
  expect({ ...facts, id: '', recordedAt: '' }).toEqual({ ...same, id: '', recordedAt: '' })
  expect(reportOn(db, actor, again).report).toEqual(reportOn(db, actor, first).report)
  expect(fillSearch(db)).toBe(0)
  expect(db.$client.pragma('foreign_key_check')).toEqual([])
})

test('is as large as asked', () => {
  const db = openDatabase(':memory:')
  const clock = fixedClock('2026-06-01T12:00:00Z')
  generateHousehold(db, clock, household(db, clock, 'Robin'), size)
  const count = (table: string) => db.$client.prepare(`SELECT count(*) FROM ${table}`).pluck().get()
  expect(['vehicles', 'entries', 'parts', 'photos'].map(count)).toEqual([2, 260, 140, 10])
})
