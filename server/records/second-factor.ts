/** A second factor: codes of the moment (RFC 6238: SHA-1, 6 digits, 30 s), and recovery codes for when the device is lost. */
import { randomBytes } from 'node:crypto'
import { and, eq, isNull } from 'drizzle-orm'
import { Secret, TOTP } from 'otpauth'
import type { Clock } from './clock.ts'
import type { Actor, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { hasPasskey } from './entering.ts'
import { changePerson } from './person-rows.ts'
import { done, refusal, refused } from './refusals.ts'
import { people, recoveryCodes } from './schema.ts'
import { noteSecurity } from './security-log.ts'
import { hashToken } from './tokens.ts'

const PERIOD_s = 30
const RECOVERY_codes = 8

/** A secret to offer; nothing is kept until a code of it comes back. `address` is what a code app reads from the picture. */
export function offerSecondFactor(actor: Actor): { readonly secret: string; readonly address: string } {
  const secret = new Secret({ size: 20 })
  return { secret: secret.base32, address: totp(secret.base32, actor.name).toString() }
}

/** The address of a secret that was offered before, to show its picture again; null where it is none. */
export function addressOfSecret(actor: Actor, secret: string): string | null {
  return isSecret(secret) ? totp(secret, actor.name).toString() : null
}

/** Kept once a right code shows that the device has it. The recovery codes are shown once. */
export function setSecondFactor(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: { readonly secret: string; readonly code: string },
): Result<{ recoveryCodes: readonly string[] }> {
  const step = isSecret(given.secret) ? stepOf(clock, given) : null
  if (step === null)
    return refused([refusal('wrong-code', 'That code is not of this secret. Wait for the next one and try again.', { field: 'code' })])
  return inTransaction(db, () => {
    changePerson(db, actor, { secondFactor: given.secret, secondFactorStep: step })
    const codes = makeRecoveryCodes(db, actor)
    noteSecurity(db, clock, { kind: 'second-factor-set', says: actor.name, householdId: actor.householdId, personId: actor.personId })
    return done({ recoveryCodes: codes })
  })
}

export function removeSecondFactor(db: Db, clock: Clock, actor: Actor): void {
  inTransaction(db, () => {
    changePerson(db, actor, { secondFactor: null, secondFactorStep: null })
    if (!hasPasskey(db, actor.personId)) dropRecoveryCodes(db, actor)
    noteSecurity(db, clock, { kind: 'second-factor-removed', says: actor.name, householdId: actor.householdId, personId: actor.personId })
    return done(null)
  })
}

/** Eight new ones, shown once; those there were work no more. */
export function makeRecoveryCodes(db: Db, actor: Actor): readonly string[] {
  dropRecoveryCodes(db, actor)
  const codes = Array.from({ length: RECOVERY_codes }, () => randomBytes(8).toString('hex'))
  for (const code of codes)
    db.insert(recoveryCodes)
      .values({ codeHash: hashToken(code), householdId: actor.householdId, personId: actor.personId })
      .run()
  return codes
}

export function dropRecoveryCodes(db: Db, actor: Actor): void {
  db.delete(recoveryCodes)
    .where(and(eq(recoveryCodes.personId, actor.personId), eq(recoveryCodes.householdId, actor.householdId)))
    .run()
}

/** Whether a code lets this person in; each works once. */
export function useSecondFactor(db: Db, clock: Clock, actor: Actor, code: string): boolean {
  const person = db
    .select({ secret: people.secondFactor, lastStep: people.secondFactorStep })
    .from(people)
    .where(and(eq(people.id, actor.personId), eq(people.householdId, actor.householdId)))
    .get()
  if (!person) return false
  const typed = code.replace(/[\s-]/g, '').toLowerCase()
  if (/^\d{6}$/.test(typed)) {
    if (person.secret === null) return false
    const step = stepOf(clock, { secret: person.secret, code: typed })
    if (step === null || step <= (person.lastStep ?? 0)) return false
    db.update(people).set({ secondFactorStep: step }).where(eq(people.id, actor.personId)).run()
    return true
  }
  const used = db
    .update(recoveryCodes)
    .set({ usedAt: clock.now().toISOString() })
    .where(
      and(
        eq(recoveryCodes.codeHash, hashToken(typed)),
        eq(recoveryCodes.personId, actor.personId),
        eq(recoveryCodes.householdId, actor.householdId),
        isNull(recoveryCodes.usedAt),
      ),
    )
    .run().changes
  if (used === 1)
    noteSecurity(db, clock, { kind: 'recovery-code-used', says: actor.name, householdId: actor.householdId, personId: actor.personId })
  return used === 1
}

export function recoveryCodesLeft(db: Db, actor: Actor): number {
  return db
    .select({ codeHash: recoveryCodes.codeHash })
    .from(recoveryCodes)
    .where(and(eq(recoveryCodes.personId, actor.personId), eq(recoveryCodes.householdId, actor.householdId), isNull(recoveryCodes.usedAt)))
    .all().length
}

/** The time step of a code that is right now, or was just before or after; null for a wrong one. */
function stepOf(clock: Clock, given: { readonly secret: string; readonly code: string }): number | null {
  const now = clock.now().getTime()
  const delta = totp(given.secret, '').validate({ token: given.code.replace(/\s/g, ''), timestamp: now, window: 1 })
  return delta === null ? null : Math.floor(now / 1000 / PERIOD_s) + delta
}

function totp(secret: string, label: string): TOTP {
  return new TOTP({
    issuer: 'Loombook',
    label: label || 'Loombook',
    algorithm: 'SHA1',
    digits: 6,
    period: PERIOD_s,
    secret: Secret.fromBase32(secret),
  })
}

function isSecret(text: string): boolean {
  return /^[A-Z2-7]{32}$/.test(text)
}
