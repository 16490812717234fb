/** What was measured, in the entries that stand, the latest entry first. */
import type { Actor, Change } from './contract.ts'
import type { Db } from './database.ts'
import { liveEntries, wholeRows } from './entry-rows.ts'

export type Reading = {
  /** the entry's id, and which of its changes it is */
  readonly key: string
  readonly entryId: string
  readonly on: string
  readonly measured: Extract<Change, { kind: 'measured' }>
}

/** Where a reading stands: a long list, of which a piece is read. */
export type PlacedReading = {
  readonly key: string
  /** of its entry */
  readonly effectiveOn: string
  readonly placeId: string
  /** among the changes of its entry */
  readonly position: number
}

/** Every reading's place, the latest entry first, within one as it was written. */
export function placedReadings(db: Db, actor: Actor, vehicleId: string): readonly PlacedReading[] {
  const sql = 'SELECT entry_id, kind FROM changes INDEXED BY changes_by_vehicle WHERE vehicle_id = ? AND household_id = ? ORDER BY position'
  const positions = new Map<string, number[]>()
  const counts = new Map<string, number>()
  for (const [entryId, kind] of db.$client.prepare(sql).raw().iterate(vehicleId, actor.householdId) as Iterable<[string, string]>) {
    const position = counts.get(entryId) ?? 0
    counts.set(entryId, position + 1)
    if (kind === 'measured') positions.set(entryId, [...(positions.get(entryId) ?? []), position])
  }
  return [...liveEntries(db, actor, vehicleId)]
    .reverse()
    .flatMap(({ id, effectiveOn, placeId }) =>
      (positions.get(id) ?? []).map((position) => ({ key: keyOf(id, position), effectiveOn, placeId, position })),
    )
}

/** Those of these keys, in their order. */
export function readingsOf(
  db: Db,
  actor: Actor,
  given: { readonly vehicleId: string; readonly keys: readonly string[] },
): readonly Reading[] {
  const { vehicleId, keys } = given
  const ids = [...new Set(keys.map((key) => key.slice(0, key.indexOf('.'))))]
  const found = new Map<string, Reading>()
  for (const { id, effectiveOn, changes } of wholeRows(db, actor, { vehicleId, ids }))
    for (const [position, measured] of changes.entries())
      if (measured.kind === 'measured') found.set(keyOf(id, position), { key: keyOf(id, position), entryId: id, on: effectiveOn, measured })
  return keys.flatMap((key) => found.get(key) ?? [])
}

function keyOf(entryId: string, position: number): string {
  return `${entryId}.${position}`
}
