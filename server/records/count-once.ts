/** A count of the shelf, kept once: `basedOn` is the count that stood when it was typed. */
import { and, eq, sql } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { done } from './refusals.ts'
import { stockCounts } from './schema.ts'
import { countStock, stockOf } from './stock.ts'

/** The id of the count in force; an empty text where nothing was counted yet. */
export function lastCountId(db: Db, actor: Actor, partId: string): string {
  return lastCount(db, actor, partId)?.id ?? ''
}

export function countOnce(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: { readonly partId: string; readonly count: number; readonly place: string; readonly basedOn: string | null },
): Result<{ inStock: number; place: string | null }> {
  const { partId, count, place, basedOn } = given
  return inTransaction(db, () => {
    const last = lastCount(db, actor, partId)
    // Somebody counted since this was typed, and to the same end: it is this very count, sent again.
    const isKept =
      basedOn !== null && last !== undefined && last.id !== basedOn && last.count === count && last.recordedBy === actor.personId
    if (isKept && (place.trim() === '' || last.place === place.trim())) return done(stockOf(db, actor, partId))
    return countStock(db, clock, actor, partId, count, place)
  })
}

function lastCount(db: Db, actor: Actor, partId: string): typeof stockCounts.$inferSelect | undefined {
  return db
    .select()
    .from(stockCounts)
    .where(and(eq(stockCounts.partId, partId), eq(stockCounts.householdId, actor.householdId)))
    .orderBy(sql`stock_counts.id DESC`)
    .limit(1)
    .get()
}
