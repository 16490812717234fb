/** What a household has set for itself, by name. */
import { and, eq } from 'drizzle-orm'
import { changeKept } from './changing-digests.ts'
import type { Actor, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { done, refusal, refused } from './refusals.ts'
import { settings } from './schema.ts'

/** What stands behind a sum of money: "€", "kr", "CHF"; blank: nothing. */
export function currencyOf(db: Db, actor: Actor): string {
  return settingOf(db, actor, 'currency') ?? ''
}

export function setCurrency(db: Db, actor: Actor, typed: string): Result<{ currency: string }> {
  const currency = typed.trim()
  if (currency.length > 8 || /[\d\p{Cc}\p{Cf}\p{Cs}]/u.test(currency))
    return refused([refusal('not-valid', 'A currency is a sign or a short word, up to 8 letters and no figures.', { field: 'currency' })])
  const row = { householdId: actor.householdId, name: 'currency', value: currency }
  return inTransaction(db, () => {
    changeKept(db, {
      table: 'settings',
      id: `${actor.householdId} currency`,
      write: () =>
        db
          .insert(settings)
          .values(row)
          .onConflictDoUpdate({ target: [settings.householdId, settings.name], set: row })
          .run(),
    })
    return done({ currency })
  })
}

function settingOf(db: Db, actor: Actor, name: string): string | undefined {
  return db
    .select({ value: settings.value })
    .from(settings)
    .where(and(eq(settings.householdId, actor.householdId), eq(settings.name, name)))
    .get()?.value
}
