/** For who forgot a password, or lost every second factor: by the machine's own command line alone, since nothing here sends mail. */
import { and, asc, eq, isNull } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor, Result, Role } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { actorOf, keysOf, type Person } from './entering.ts'
import { faultsOfPassword } from './passwords.ts'
import { personNamed, setPassword } from './people.ts'
import { done, refusal, refused } from './refusals.ts'
import { passkeys, passwordResets, people } from './schema.ts'
import { removeSecondFactor } from './second-factor.ts'
import { noteSecurity } from './security-log.ts'
import { hashToken, newToken } from './tokens.ts'

const GOOD_FOR_ms = 60 * 60_000

/** Everybody of the installation, by name. */
export function everybody(db: Db): readonly { readonly name: string; readonly role: Role; readonly isDisabled: boolean }[] {
  return db
    .select()
    .from(people)
    .orderBy(asc(people.nameFolded))
    .all()
    .map(({ name, role, disabledAt }) => ({ name, role, isDisabled: disabledAt !== null }))
}

/** The token is shown once; for an hour its address sets a new password, once. An earlier one works no more. */
export function makePasswordLink(db: Db, clock: Clock, name: string): Result<{ token: string; name: string }> {
  const person = personNamed(db, name)
  if (!person) return refused([noSuchPerson(name)])
  const token = newToken()
  const now = clock.now()
  return inTransaction(db, () => {
    db.delete(passwordResets).where(eq(passwordResets.personId, person.id)).run()
    db.insert(passwordResets)
      .values({
        ...{ tokenHash: hashToken(token), householdId: person.householdId, personId: person.id },
        ...{ expiresAt: new Date(now.getTime() + GOOD_FOR_ms).toISOString(), recordedAt: now.toISOString() },
      })
      .run()
    noteSecurity(db, clock, { kind: 'password-link-made', says: person.name, ...keysOf(actorOf(person)) })
    return done({ token, name: person.name })
  })
}

/** Whose link it is; null for one that is wrong, used or too old: no telling which. */
export function passwordLinkOf(db: Db, clock: Clock, token: string): { readonly name: string } | null {
  const person = holderOf(db, clock, token)
  return person && { name: person.name }
}

/** Sets it, ends every session of the person, and the link is used. */
export async function setPasswordByLink(
  db: Db,
  clock: Clock,
  given: { readonly token: string; readonly password: string },
): Promise<Result<{ ended: number }>> {
  const person = holderOf(db, clock, given.token)
  if (!person) return refused([refusal('not-found', NO_LINK)])
  const faults = faultsOfPassword(given.password, { name: person.name })
  if (faults.length > 0) return refused(faults)
  // Used up before the slow part: of two at the same moment the second finds it gone.
  const { changes } = db
    .update(passwordResets)
    .set({ usedAt: clock.now().toISOString() })
    .where(and(eq(passwordResets.tokenHash, hashToken(given.token)), isNull(passwordResets.usedAt)))
    .run()
  if (changes !== 1) return refused([refusal('not-found', NO_LINK)])
  return setPassword(db, clock, actorOf(person), { password: given.password, butToken: null })
}

/** At once, by who owns the machine. */
export async function resetPassword(db: Db, clock: Clock, name: string, password: string): Promise<Result<{ ended: number }>> {
  const person = personNamed(db, name)
  if (!person) return refused([noSuchPerson(name)])
  const faults = faultsOfPassword(password, { name: person.name })
  return faults.length > 0 ? refused(faults) : setPassword(db, clock, actorOf(person), { password, butToken: null })
}

/** For who lost the device: codes, recovery codes and passkeys go, and the password alone lets in again. */
export function dropSecondFactors(db: Db, clock: Clock, name: string): Result<Actor> {
  const person = personNamed(db, name)
  if (!person) return refused([noSuchPerson(name)])
  return inTransaction(db, () => {
    db.delete(passkeys).where(eq(passkeys.personId, person.id)).run()
    removeSecondFactor(db, clock, actorOf(person))
    return done(actorOf(person))
  })
}

export const NO_LINK = 'This link does not work: it was used, another was made since, or an hour has passed. Make a new one on the machine.'

function holderOf(db: Db, clock: Clock, token: string): Person | null {
  const row = db
    .select({ link: passwordResets, person: people })
    .from(passwordResets)
    .innerJoin(people, and(eq(people.id, passwordResets.personId), eq(people.householdId, passwordResets.householdId)))
    .where(eq(passwordResets.tokenHash, hashToken(token)))
    .get()
  return row && row.link.usedAt === null && row.link.expiresAt > clock.now().toISOString() && row.person.disabledAt === null
    ? row.person
    : null
}

function noSuchPerson(name: string) {
  return refusal('not-found', `Nobody here is called ${name}.`)
}
