/** What the check found altered by each entry of a vehicle, out of all that was kept with it at the time. */
import type { Actor, Shown } from './contract.ts'
import type { Db } from './database.ts'

export type ThenFound = Pick<Shown, 'appeared' | 'cleared'>

/**
 * By entry; those that altered nothing are left out. All that was kept with 5,000 entries are tens of megabytes, nearly all of it what stood
 * before and after: the database takes out what is asked for.
 */
export function thenFoundOf(db: Db, actor: Actor, vehicleId: string): ReadonlyMap<string, ThenFound> {
  const rows = db.$client
    .prepare(
      `SELECT id, found FROM (SELECT id, json_extract(shown, '$.appeared', '$.cleared') AS found FROM entries
         WHERE vehicle_id = ? AND +household_id = ? AND shown IS NOT NULL) WHERE found <> '[[],[]]'`,
    )
    .all(vehicleId, actor.householdId) as { id: string; found: string }[]
  return new Map(rows.map(({ id, found }) => [id, read(found)]))
}

function read(found: string): ThenFound {
  const [appeared, cleared] = JSON.parse(found) as [ThenFound['appeared'] | null, ThenFound['cleared'] | null]
  return { appeared: appeared ?? [], cleared: cleared ?? [] }
}
