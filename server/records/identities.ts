/**
 * Accounts at a provider of identities that people connected with theirs here. Nobody is let in, and nothing connected, by a name alone; by
 * an address only where an owner gave it: else anybody could claim another's, who would then come in as them.
 */
import { createHash } from 'node:crypto'
import { and, asc, eq } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { actorOf, enter, keysOf, type Person, type SignedIn } from './entering.ts'
import { changePerson } from './person-rows.ts'
import { plainForm } from './plain-form.ts'
import { done, refusal, refused } from './refusals.ts'
import { identities, people } from './schema.ts'
import { noteSecurity } from './security-log.ts'
import type { From } from './sessions.ts'

export type Identity = {
  readonly issuer: string
  readonly subject: string
  readonly email: string | null
  readonly isVerified: boolean
  readonly label: string
}
export type IdentityFacts = {
  /** names it in a list */
  readonly id: string
  readonly issuer: string
  readonly label: string
  readonly recordedAt: string
  readonly lastUsedAt: string | null
}

const UNKNOWN =
  'Nobody here is connected with that account. Sign in with your password, then connect it on the page of your account. An e-mail address counts only where the provider has verified it, the owner of this Loombook lets it count and has set it for you.'

/** Whose it is comes in, or to the second step. Where addresses count, a verified one connects its person for good. */
export function enterByIdentity(
  db: Db,
  clock: Clock,
  given: { readonly identity: Identity; readonly linksByEmail: boolean; readonly from: From },
): Result<SignedIn> {
  const { identity, from } = given
  return inTransaction(db, () => {
    const connected = holderOf(db, identity)
    const person = connected ?? (given.linksByEmail && identity.isVerified ? byEmail(db, identity.email) : null)
    if (!person || person.disabledAt !== null) return refused([refusal('identity-not-known', UNKNOWN)])
    if (connected === null) connect(db, clock, { person, identity })
    db.update(identities).set({ lastUsedAt: clock.now().toISOString() }).where(isThe(identity)).run()
    return done(enter(db, clock, person, { ...from, isByOthers: true }))
  })
}

/** Kept in the log where nobody was let in: outside of what is undone. */
export function noteUnknownIdentity(db: Db, clock: Clock, given: { readonly identity: Identity; readonly from: From }): void {
  const { label, email, isVerified } = given.identity
  const says = `By a provider, not connected: ${label.slice(0, 80)}${email !== null && !isVerified ? ', address not verified' : ''}`
  noteSecurity(db, clock, { kind: 'sign-in-refused', says, address: given.from.address })
}

/** By who is signed in, for themselves. */
export function connectIdentity(db: Db, clock: Clock, actor: Actor, identity: Identity): Result<{ label: string }> {
  return inTransaction(db, () => {
    const holder = holderOf(db, identity)
    if (holder && holder.id !== actor.personId)
      return refused([refusal('identity-taken', 'That account is connected with somebody else here. Nothing was changed.')])
    const person = personOf(db, actor)
    if (!person) return refused([refusal('not-found', 'There is no such person.')])
    if (!holder) connect(db, clock, { person, identity })
    return done({ label: identity.label })
  })
}

export function identitiesOf(db: Db, actor: Actor): readonly IdentityFacts[] {
  return ownRows(db, actor).map((row) => ({
    id: nameOf(row),
    issuer: row.issuer,
    label: row.label,
    recordedAt: row.recordedAt,
    lastUsedAt: row.lastUsedAt,
  }))
}

export function removeIdentity(db: Db, clock: Clock, actor: Actor, id: string): Result<{ label: string }> {
  const row = ownRows(db, actor).find((one) => nameOf(one) === id)
  if (!row) return refused([refusal('not-found', 'There is no such account.')])
  db.delete(identities).where(isThe(row)).run()
  noteSecurity(db, clock, { kind: 'identity-removed', says: row.label, ...keysOf(actor) })
  return done({ label: row.label })
}

export function emailOf(db: Db, actor: Actor): string {
  return personOf(db, actor)?.email ?? ''
}

/** By an owner, for anybody of the household. Empty: none. It is only compared, in small letters; nothing is ever sent to it. */
export function setEmail(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: { readonly personId: string; readonly email: string },
): Result<{ email: string }> {
  const email = given.email.trim()
  if (email !== '' && !/^[^\s@]{1,64}@[^\s@]{1,190}$/.test(email))
    return refused([refusal('not-valid', 'That is no e-mail address.', { field: 'email' })])
  const who = { personId: given.personId, householdId: actor.householdId }
  const person = personOf(db, who)
  if (!person) return refused([refusal('not-found', 'There is no such person.')])
  const holder = byEmail(db, email)
  if (holder && holder.id !== person.id)
    return refused([refusal('name-taken', 'Somebody here has that address already.', { field: 'email' })])
  return inTransaction(db, () => {
    changePerson(db, who, email === '' ? { email: null, emailFolded: null } : { email, emailFolded: foldedEmail(email) })
    noteSecurity(db, clock, {
      kind: 'email-set',
      says: `${person.name}: ${email === '' ? 'none any more' : 'an address'}`,
      ...keysOf(actor),
    })
    return done({ email })
  })
}

type Key = { readonly issuer: string; readonly subject: string }

function connect(db: Db, clock: Clock, { person, identity }: { readonly person: Person; readonly identity: Identity }): void {
  const { issuer, subject, label } = identity
  db.insert(identities)
    .values({ issuer, subject, householdId: person.householdId, personId: person.id, label, recordedAt: clock.now().toISOString() })
    .run()
  noteSecurity(db, clock, { kind: 'identity-connected', says: label, ...keysOf(actorOf(person)) })
}

function holderOf(db: Db, key: Key): Person | null {
  const row = db
    .select({ person: people })
    .from(identities)
    .innerJoin(people, and(eq(people.id, identities.personId), eq(people.householdId, identities.householdId)))
    .where(isThe(key))
    .get()
  return row?.person ?? null
}

function byEmail(db: Db, email: string | null): Person | null {
  // RFC 5321, 4.5.3.1: no address is longer; cut to be compared, it must not become another's.
  if (email === null || email === '' || email.length > 320) return null
  return (
    db
      .select()
      .from(people)
      .where(eq(people.emailFolded, foldedEmail(email)))
      .get() ?? null
  )
}

function personOf(db: Db, actor: Pick<Actor, 'personId' | 'householdId'>): Person | undefined {
  return db
    .select()
    .from(people)
    .where(and(eq(people.id, actor.personId), eq(people.householdId, actor.householdId)))
    .get()
}

function ownRows(db: Db, actor: Actor) {
  return db
    .select()
    .from(identities)
    .where(and(eq(identities.personId, actor.personId), eq(identities.householdId, actor.householdId)))
    .orderBy(asc(identities.recordedAt))
    .all()
}

function isThe({ issuer, subject }: Key) {
  return and(eq(identities.issuer, issuer), eq(identities.subject, subject))
}

function foldedEmail(email: string): string {
  return plainForm(email).toLowerCase()
}

function nameOf({ issuer, subject }: Key): string {
  return createHash('sha256')
    .update(JSON.stringify([issuer, subject]))
    .digest('hex')
    .slice(0, 16)
}
