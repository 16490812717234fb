/** What the check found altered by each entry of a vehicle, out of all that was kept with it at the time. */
import type { Actor, Shown } from './contract.ts'
import type { Db } from './database.ts'
import { turningsOf } from './entry-rows.ts'

export type ThenFound = Pick<Shown, 'appeared' | 'cleared'>

/** By entry; those that altered nothing are left out. */
export function thenFoundOf(db: Db, actor: Actor, vehicleId: string): ReadonlyMap<string, ThenFound> {
  const ids = [...new Set([...turningsOf(db, actor, vehicleId).values()].flat())]
  const rows = db.$client
    .prepare(
      `SELECT id, json_extract(shown, '$.appeared', '$.cleared') AS found FROM entries
       WHERE id IN (SELECT value FROM json_each(?)) AND +household_id = ?`,
    )
    .all(JSON.stringify(ids), actor.householdId) as { id: string; found: string }[]
  return new Map(rows.map(({ id, found }) => [id, read(found)]))
}

function read(found: string): ThenFound {
  const [appeared, cleared] = JSON.parse(found) as [ThenFound['appeared'] | null, ThenFound['cleared'] | null]
  return { appeared: appeared ?? [], cleared: cleared ?? [] }
}
