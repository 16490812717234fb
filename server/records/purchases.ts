/** What was bought: a purchase adds to the count on the shelf, as of the moment it is recorded, until the next count says what is there. */
import { and, desc, eq } from 'drizzle-orm'
import { isDay } from './changes/fields.ts'
import type { Clock } from './clock.ts'
import type { Actor, Refusal, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { newId } from './ids.ts'
import { partsById } from './part-rows.ts'
import { done, refusal, refused } from './refusals.ts'
import { purchases } from './schema.ts'
import { countStock, stockOf } from './stock.ts'

export type NewPurchase = {
  readonly partId: string
  readonly boughtOn: string
  readonly count: number
  /** paid for all of them together */
  readonly price_minor?: number | undefined
  readonly supplier?: string | undefined
  /** they are fitted or counted already: the count on the shelf stays as it is */
  readonly countStays?: boolean | undefined
}
export type Purchase = {
  readonly id: string
  readonly boughtOn: string
  readonly count: number
  readonly price_minor: number | null
  readonly supplier: string
}

export function recordPurchase(db: Db, clock: Clock, actor: Actor, given: NewPurchase): Result<{ id: string; inStock: number }> {
  const faults = faultsOf(given)
  if (faults.length > 0) return refused(faults)
  return inTransaction(db, () => {
    if (!partsById(db, actor).has(given.partId)) return refused([refusal('not-found', 'There is no such part.')])
    const before = stockOf(db, actor, given.partId).inStock
    const id = newId(clock)
    db.insert(purchases)
      .values({
        id,
        householdId: actor.householdId,
        partId: given.partId,
        boughtOn: given.boughtOn,
        count: given.count,
        price_minor: given.price_minor ?? null,
        supplier: given.supplier?.trim() ?? '',
        recordedAt: clock.now().toISOString(),
        recordedBy: actor.personId,
      })
      .run()
    if (given.countStays) {
      const counted = countStock(db, clock, actor, given.partId, before)
      if (!counted.ok) return counted
    }
    return done({ id, inStock: stockOf(db, actor, given.partId).inStock })
  })
}

/** A purchase recorded by mistake; what it added to the shelf goes with it. */
export function removePurchase(db: Db, actor: Actor, given: { readonly partId: string; readonly purchaseId: string }): Result<null> {
  const mine = and(eq(purchases.id, given.purchaseId), eq(purchases.partId, given.partId), eq(purchases.householdId, actor.householdId))
  const { changes } = db.delete(purchases).where(mine).run()
  return changes === 0 ? refused([refusal('not-found', 'There is no such purchase.')]) : done(null)
}

/** Latest first. */
export function purchasesOf(db: Db, actor: Actor, partId: string): Purchase[] {
  return db
    .select({
      id: purchases.id,
      boughtOn: purchases.boughtOn,
      count: purchases.count,
      price_minor: purchases.price_minor,
      supplier: purchases.supplier,
    })
    .from(purchases)
    .where(and(eq(purchases.partId, partId), eq(purchases.householdId, actor.householdId)))
    .orderBy(desc(purchases.boughtOn), desc(purchases.id))
    .all()
}

/** What one of them cost when the part was last bought at a known price, to the nearest minor unit. */
export function lastPriceOf(bought: readonly Purchase[]): { readonly price_minor: number; readonly on: string } | null {
  const last = bought.find((one) => one.price_minor !== null)
  return last ? { price_minor: Math.round((last.price_minor ?? 0) / last.count), on: last.boughtOn } : null
}

function faultsOf(given: NewPurchase): readonly Refusal[] {
  const faults: Refusal[] = []
  const { count, price_minor } = given
  if (!isDay(given.boughtOn)) faults.push(refusal('not-valid', 'Give a date as YYYY-MM-DD.', { field: 'boughtOn' }))
  if (!Number.isInteger(count) || count < 1 || count > 1e6)
    faults.push(refusal('not-valid', 'Give a whole number, one or more.', { field: 'count' }))
  if (price_minor !== undefined && !(Number.isInteger(price_minor) && price_minor >= 0 && price_minor <= 1e12))
    faults.push(refusal('not-valid', 'Give a price of nothing or more.', { field: 'price_minor' }))
  if ((given.supplier ?? '').length > 200) faults.push(refusal('not-valid', 'Keep the supplier under 200 letters.', { field: 'supplier' }))
  return faults
}
