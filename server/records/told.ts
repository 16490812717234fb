/** What a feed of the journal tells: the latest entries that stand, without what is private in them. */
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import { standingEntry } from './standing.ts'
import { stateOn } from './state.ts'

export type ToldEntry = {
  readonly placeId: string
  readonly title: string
  readonly vehicleName: string
  readonly effectiveOn: string
  readonly recordedAt: string
}

const most = 50

export function toldEntries(db: Db, actor: Actor, vehicleId: string | null): ToldEntry[] {
  const sql = `SELECT e.place_id AS placeId, e.title, e.vehicle_id AS vehicleId, e.effective_on AS effectiveOn, e.recorded_at AS recordedAt
    FROM entries e WHERE e.household_id = ? AND (? IS NULL OR e.vehicle_id = ?) AND ${standingEntry} ORDER BY e.id DESC LIMIT ${most}`
  const rows = db.$client.prepare(sql).all(actor.householdId, vehicleId, vehicleId) as (Omit<ToldEntry, 'vehicleName'> & {
    vehicleId: string
  })[]
  return rows.map(({ vehicleId: of, ...entry }) => ({ ...entry, vehicleName: stateOn(db, actor, of).vehicle.name }))
}

/** When each of these entries was recorded. */
export function recordedAtOf(db: Db, actor: Actor, entryIds: readonly string[]): ReadonlyMap<string, string> {
  const ask = db.$client.prepare('SELECT recorded_at FROM entries WHERE id = ? AND household_id = ?').pluck()
  return new Map([...new Set(entryIds)].map((id) => [id, String(ask.get(id, actor.householdId))]))
}
