/** Parts that a form offers in a list: of a full shelf so many of a kind, those in stock first. */
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import { partNames } from './part-rows.ts'
import { EVER_STOCKED, stocksOf } from './stock.ts'

export type OfferedPart = { readonly id: string; readonly name: string; readonly inStock: number }
export type Offered = { readonly parts: readonly OfferedPart[]; readonly count: number; readonly most: number }
export type Offering = (kind: string, picked: string) => Offered

/**
 * By name; where not all are offered those in stock come first, and the one picked before them. For one answer: it does not see what is
 * recorded after.
 */
export function partsOffered(db: Db, actor: Actor, most: number): Offering {
  let stocked: ReadonlySet<string> | null = null
  const mayBeInStock = (id: string) => {
    stocked ??= everStocked(db, actor)
    return stocked.has(id)
  }
  return (kind, picked) => {
    const ofKind = partNames(db, actor).filter((part) => part.kind === kind)
    const stock = stocksOf(db, actor, ofKind.map((part) => part.id).filter(mayBeInStock))
    const all = ofKind.map(({ id, name }) => ({ id, name, inStock: stock(id).inStock }))
    const rank = (part: OfferedPart): number => (part.id === picked ? 0 : part.inStock > 0 ? 1 : 2)
    const parts = all.length > most ? all.sort((a, b) => rank(a) - rank(b)).slice(0, most) : all
    return { parts, count: all.length, most }
  }
}

/** Few of all parts were ever counted, bought or put back; the others need not be asked about one by one. */
function everStocked(db: Db, actor: Actor): ReadonlySet<string> {
  return new Set(db.$client.prepare(EVER_STOCKED).pluck().all({ household: actor.householdId }) as string[])
}
