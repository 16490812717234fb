/** How many of a part are on the shelf: the last count, and what was bought or entries took or put back since. Never below none. */
import type { Clock } from './clock.ts'
import type { Actor, Change, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { keepDigest } from './digests.ts'
import { newId } from './ids.ts'
import { partsById } from './part-rows.ts'
import { done, refusal, refused } from './refusals.ts'
import { stockCounts, stockMoves } from './schema.ts'

export function countStock(
  db: Db,
  clock: Clock,
  actor: Actor,
  partId: string,
  count: number,
  place?: string,
): Result<{ inStock: number; place: string | null }> {
  if (!Number.isInteger(count) || count < 0 || count > 1e6)
    return refused([refusal('not-valid', 'Give a whole number, none or more.', { field: 'count' })])
  return inTransaction(db, () => {
    if (!partsById(db, actor).has(partId)) return refused([refusal('not-found', 'There is no such part.')])
    const kept = place?.trim() ? place.trim().slice(0, 200) : stockOf(db, actor, partId).place
    const recordedAt = clock.now().toISOString()
    const id = newId(clock)
    db.insert(stockCounts)
      .values({ id, householdId: actor.householdId, partId, count, place: kept, recordedAt, recordedBy: actor.personId })
      .run()
    keepDigest(db, 'stock_counts', id)
    return done({ inStock: count, place: kept })
  })
}

export type Stock = { readonly inStock: number; readonly place: string | null }

/** Parts that may be on the shelf: they were counted, bought or put back at some time. */
export const EVER_STOCKED = `SELECT part_id FROM stock_counts WHERE household_id = @household AND count > 0
  UNION SELECT part_id FROM stock_moves WHERE household_id = @household AND by_count > 0
  UNION SELECT part_id FROM purchases WHERE household_id = @household`

/** Of several parts, in a few questions for all of them. */
export function stocksOf(db: Db, actor: Actor, partIds: readonly string[]): (partId: string) => Stock {
  if (partIds.length === 0) return () => ({ inStock: 0, place: null })
  const asked = JSON.stringify(partIds)
  const counts = db.$client
    .prepare(
      `SELECT part_id AS part, max(id) AS id, count, place FROM stock_counts
       WHERE part_id IN (SELECT value FROM json_each(?)) AND +household_id = ? GROUP BY part_id`,
    )
    .all(asked, actor.householdId) as { part: string; id: string; count: number; place: string | null }[]
  const counted = new Map(counts.map((count) => [count.part, count]))
  const moves = db.$client
    .prepare(
      `SELECT m.part_id AS part, m.id, e.place_id AS placeId, m.by_count AS byCount FROM stock_moves m JOIN entries e ON e.id = m.entry_id
       WHERE m.part_id IN (SELECT value FROM json_each(?)) AND +m.household_id = ? AND ${standingOf('m.entry_id')}`,
    )
    .all(asked, actor.householdId) as { part: string; id: string; placeId: string; byCount: number }[]
  const bought = db.$client
    .prepare(
      `SELECT part_id AS part, id, id AS placeId, count AS byCount FROM purchases
       WHERE part_id IN (SELECT value FROM json_each(?)) AND +household_id = ?`,
    )
    .all(asked, actor.householdId) as typeof moves
  const left = new Map(counts.map((count) => [count.part, count.count]))
  // Ids are given in order whatever they are of, so they tell what came after the count and in which order.
  for (const { part, placeId, byCount } of [...moves, ...bought].sort((a, b) => (a.id < b.id ? -1 : 1))) {
    // By the entry's first version: a word corrected after the count takes nothing from the shelf again.
    if (placeId > (counted.get(part)?.id ?? '')) left.set(part, Math.max(0, (left.get(part) ?? 0) + byCount))
  }
  return (partId) => ({ inStock: left.get(partId) ?? 0, place: counted.get(partId)?.place ?? null })
}

export function stockOf(db: Db, actor: Actor, partId: string): Stock {
  return stocksOf(db, actor, [partId])(partId)
}

/** A withdrawn or replaced entry moves nothing; one whose withdrawal was itself withdrawn does again. */
function standingOf(entryId: string): string {
  return `NOT EXISTS (SELECT 1 FROM entries c WHERE c.corrects_id = ${entryId} AND (c.correction = 'replaced'
    OR NOT EXISTS (SELECT 1 FROM entries cc WHERE cc.corrects_id = c.id AND cc.correction = 'withdrawn')))`
}

/** What an entry takes from the shelf and puts back. `before` gives the part a component held before its change. */
export function recordMoves(
  db: Db,
  clock: Clock,
  actor: Actor,
  entry: { readonly id: string; readonly moves: readonly { readonly part: string; readonly byCount: number }[] },
): void {
  for (const { part, byCount } of entry.moves) {
    const id = newId(clock)
    db.insert(stockMoves).values({ id, householdId: actor.householdId, partId: part, entryId: entry.id, byCount }).run()
    keepDigest(db, 'stock_moves', id)
  }
}

export function movesOf(
  changes: readonly Change[],
  partBefore: ReadonlyMap<string, string>,
): { readonly part: string; readonly byCount: number }[] {
  const held = new Map(partBefore)
  const moves: { part: string; byCount: number }[] = []
  for (const change of changes) {
    if (change.kind === 'fitted') {
      moves.push({ part: change.component.part, byCount: -1 })
      held.set(change.component.key, change.component.part)
    }
    if (change.kind !== 'removed' && change.kind !== 'swapped') continue
    const old = held.get(change.component)
    if (old !== undefined && change.fate === 'shelf') moves.push({ part: old, byCount: 1 })
    if (change.kind === 'swapped') {
      moves.push({ part: change.part, byCount: -1 })
      held.set(change.component, change.part)
    }
  }
  return moves
}
