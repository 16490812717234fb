/** How many of a part are on the shelf: the last count, and what was bought or entries took or put back since. Never below none. */
import { and, eq, sql } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor, Change, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { newId } from './ids.ts'
import { partsById } from './part-rows.ts'
import { done, refusal, refused } from './refusals.ts'
import { purchases, stockCounts, stockMoves } from './schema.ts'

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
    db.insert(stockCounts)
      .values({ id: newId(clock), householdId: actor.householdId, partId, count, place: kept, recordedAt, recordedBy: actor.personId })
      .run()
    return done({ inStock: count, place: kept })
  })
}

export function stockOf(db: Db, actor: Actor, partId: string): { readonly inStock: number; readonly place: string | null } {
  const count = db
    .select()
    .from(stockCounts)
    .where(and(eq(stockCounts.partId, partId), eq(stockCounts.householdId, actor.householdId)))
    .orderBy(sql`stock_counts.id DESC`)
    .limit(1)
    .get()
  const moves = db
    .select({ id: stockMoves.id, byCount: stockMoves.byCount })
    .from(stockMoves)
    .where(and(eq(stockMoves.partId, partId), eq(stockMoves.householdId, actor.householdId), standing))
    .all()
  const bought = db
    .select({ id: purchases.id, byCount: purchases.count })
    .from(purchases)
    .where(and(eq(purchases.partId, partId), eq(purchases.householdId, actor.householdId)))
    .all()
  // Ids are given in order whatever they are of, so they tell what came after the count and in which order.
  const since = [...moves, ...bought].filter((move) => count === undefined || move.id > count.id).sort((a, b) => (a.id < b.id ? -1 : 1))
  return { inStock: since.reduce((sum, move) => Math.max(0, sum + move.byCount), count?.count ?? 0), place: count?.place ?? null }
}

/** A withdrawn or replaced entry moves nothing; one whose withdrawal was itself withdrawn does again. */
const standing = sql`NOT EXISTS (SELECT 1 FROM entries c WHERE c.corrects_id = ${stockMoves.entryId} AND (c.correction = 'replaced'
  OR NOT EXISTS (SELECT 1 FROM entries cc WHERE cc.corrects_id = c.id AND cc.correction = 'withdrawn')))`

/** What an entry takes from the shelf and puts back. `before` gives the part a component held before its change. */
export function recordMoves(
  db: Db,
  clock: Clock,
  actor: Actor,
  entry: { readonly id: string; readonly moves: readonly { readonly part: string; readonly byCount: number }[] },
): void {
  for (const { part, byCount } of entry.moves) {
    db.insert(stockMoves)
      .values({ id: newId(clock), householdId: actor.householdId, partId: part, entryId: entry.id, byCount })
      .run()
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
