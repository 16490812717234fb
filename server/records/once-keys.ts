/** Requests and forms that carry a key: the same one again is given the same answer, and records nothing more. */
import { createHash } from 'node:crypto'
import { and, eq, lt } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { done } from './refusals.ts'
import { idempotencyKeys } from './schema.ts'

export type KeptAnswer = { readonly status: number; readonly body: string }
/** `again`: kept from the first time. `other`: the key was used for another request. */
export type OnceAnswer = { readonly state: 'first' | 'again'; readonly answer: KeptAnswer } | { readonly state: 'other' }

/** So long a key is known. */
export const KEPT_days = 30

/** What is recorded and its answer are stored in one transaction; what is refused is not kept, and may be tried again. */
export function answerOnce(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: { readonly key: string; readonly request: string; readonly answer: () => Result<KeptAnswer> },
): Result<OnceAnswer> {
  const { householdId } = actor
  const requestSha256 = createHash('sha256').update(given.request).digest('hex')
  return inTransaction<OnceAnswer>(db, () => {
    forgetOldKeys(db, clock, householdId)
    const kept = db
      .select()
      .from(idempotencyKeys)
      .where(and(eq(idempotencyKeys.householdId, householdId), eq(idempotencyKeys.onceKey, given.key)))
      .get()
    if (kept && kept.requestSha256 !== requestSha256) return done({ state: 'other' })
    if (kept) return done({ state: 'again', answer: { status: kept.status, body: kept.body } })
    const answered = given.answer()
    if (!answered.ok) return answered
    const recordedAt = clock.now().toISOString()
    db.insert(idempotencyKeys)
      .values({ householdId, onceKey: given.key, requestSha256, ...answered.value, recordedAt })
      .run()
    return done({ state: 'first', answer: answered.value })
  })
}

function forgetOldKeys(db: Db, clock: Clock, householdId: string): void {
  const oldest = new Date(clock.now().getTime() - KEPT_days * 86_400_000).toISOString()
  db.delete(idempotencyKeys)
    .where(and(eq(idempotencyKeys.householdId, householdId), lt(idempotencyKeys.recordedAt, oldest)))
    .run()
}
