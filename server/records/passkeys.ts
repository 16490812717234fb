/**
 * Past 200 lines: everything about passkeys (W3C Web Authentication): registered, listed, named, removed, and answered at sign-in. A key is made for one host name, the
 * relying party, and works nowhere else; no statement about its maker is asked for.
 */
import type { AuthenticationResponseJSON, RegistrationResponseJSON } from '@simplewebauthn/server'
import { and, asc, eq } from 'drizzle-orm'
import { z } from 'zod'
import type { Clock } from './clock.ts'
import type { Actor, Refusal, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { actorOf, hasSecondFactor, keysOf, letIn, type Person, type SignedIn, signInOver, tryTicket } from './entering.ts'
import { newId } from './ids.ts'
import { done, refusal, refused } from './refusals.ts'
import { passkeys, people } from './schema.ts'
import { dropRecoveryCodes, makeRecoveryCodes } from './second-factor.ts'
import { noteSecurity } from './security-log.ts'
import type { From } from './sessions.ts'

const MOST_passkeys = 20
const TIMEOUT_ms = 5 * 60_000

/** Read when first needed: 20 MB, of no use where the address is plain http, which bears no passkeys. */
const library = () => import('@simplewebauthn/server')

/** The host name that keys are made for, and the origin that the browser names. */
export type RelyingParty = { readonly id: string; readonly origin: string }
export type PasskeyFacts = {
  readonly id: string
  readonly name: string
  readonly relyingParty: string
  readonly recordedAt: string
  readonly lastUsedAt: string | null
}
/** What the browser's answer is held against. `takes` says whether a challenge is ours and still open, and uses it up. */
export type Asked = { readonly answer: string; readonly party: RelyingParty; readonly takes: (challenge: string) => boolean }

/** Public-key options as JSON, for the browser's own call. */
export async function registrationOptions(
  db: Db,
  actor: Actor,
  given: { readonly party: RelyingParty; readonly challenge: Uint8Array<ArrayBuffer> },
): Promise<string> {
  const { generateRegistrationOptions } = await library()
  const options = await generateRegistrationOptions({
    rpName: 'Loombook',
    rpID: given.party.id,
    userName: actor.name,
    userDisplayName: actor.name,
    userID: new TextEncoder().encode(actor.personId),
    challenge: given.challenge,
    timeout: TIMEOUT_ms,
    attestationType: 'none',
    excludeCredentials: rowsFor(db, actor.personId, given.party.id).map(described),
    authenticatorSelection: { residentKey: 'preferred', userVerification: 'preferred' },
  })
  return JSON.stringify(options)
}

/** For one person's keys, or with nobody named: then the device offers what it has, and proves who holds it. */
export async function signInOptions(
  db: Db,
  given: { readonly party: RelyingParty; readonly challenge: Uint8Array<ArrayBuffer>; readonly personId?: string },
): Promise<string> {
  const { generateAuthenticationOptions } = await library()
  const options = await generateAuthenticationOptions({
    rpID: given.party.id,
    challenge: given.challenge,
    timeout: TIMEOUT_ms,
    ...(given.personId === undefined
      ? { userVerification: 'required' as const }
      : { userVerification: 'preferred' as const, allowCredentials: rowsFor(db, given.personId, given.party.id).map(described) }),
  })
  return JSON.stringify(options)
}

export function passkeysOf(db: Db, actor: Actor): readonly PasskeyFacts[] {
  return db
    .select()
    .from(passkeys)
    .where(and(eq(passkeys.personId, actor.personId), eq(passkeys.householdId, actor.householdId)))
    .orderBy(asc(passkeys.id))
    .all()
    .map(({ id, name, relyingParty, recordedAt, lastUsedAt }) => ({ id, name, relyingParty, recordedAt, lastUsedAt }))
}

/** Whether this person has a key that works at this host name. */
export function hasPasskeyFor(db: Db, personId: string, party: RelyingParty): boolean {
  return rowsFor(db, personId, party.id).length > 0
}

/** Kept once the browser's answer proves the key. With the first second factor come recovery codes, shown once; else there are none. */
export async function addPasskey(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: Asked & { readonly name: string },
): Promise<Result<{ recoveryCodes: readonly string[] }>> {
  const name = given.name.trim()
  if (name.length < 1 || name.length > 80)
    return refused([refusal('not-valid', 'Give the passkey a name of 1 to 80 letters.', { field: 'name' })])
  const { verifyRegistrationResponse } = await library()
  const answer = parsed<RegistrationResponseJSON>(given.answer)
  const proved =
    answer && (await attempted(() => verifyRegistrationResponse({ ...expected(given), response: answer, requireUserVerification: false })))
  if (!proved?.verified) return refused([notRight()])
  const { credential } = proved.registrationInfo
  return inTransaction(db, () => {
    const person = db
      .select()
      .from(people)
      .where(and(eq(people.id, actor.personId), eq(people.householdId, actor.householdId)))
      .get()
    if (!person) return refused([refusal('not-found', 'There is no such person.')])
    if (byCredential(db, credential.id))
      return refused([refusal('passkey-not-right', 'This passkey is known here already.', { field: 'name' })])
    if (passkeysOf(db, actor).length >= MOST_passkeys)
      return refused([refusal('not-valid', `At most ${MOST_passkeys} passkeys. Remove one first.`, { field: 'name' })])
    const isFirst = !hasSecondFactor(db, person)
    db.insert(passkeys)
      .values({
        id: newId(clock),
        ...keysOf(actor),
        credentialId: credential.id,
        publicKey: Buffer.from(credential.publicKey).toString('base64url'),
        signCount: credential.counter,
        transports: JSON.stringify((credential.transports ?? []).slice(0, 8).map((one) => String(one).slice(0, 20))),
        relyingParty: given.party.id,
        name,
        recordedAt: clock.now().toISOString(),
      })
      .run()
    noteSecurity(db, clock, { kind: 'passkey-added', says: name, ...keysOf(actor) })
    return done({ recoveryCodes: isFirst ? makeRecoveryCodes(db, actor) : [] })
  })
}

export function renamePasskey(db: Db, actor: Actor, id: string, given: string): Result<{ name: string }> {
  const name = given.trim()
  if (name.length < 1 || name.length > 80)
    return refused([refusal('not-valid', 'Give the passkey a name of 1 to 80 letters.', { field: 'name' })])
  const { changes } = db.update(passkeys).set({ name }).where(ownOne(actor, id)).run()
  return changes === 1 ? done({ name }) : refused([refusal('not-found', 'There is no such passkey.')])
}

/** Recovery codes go with the last second factor. */
export function removePasskey(db: Db, clock: Clock, actor: Actor, id: string): Result<{ name: string }> {
  return inTransaction(db, () => {
    const row = db.select().from(passkeys).where(ownOne(actor, id)).get()
    if (!row) return refused([refusal('not-found', 'There is no such passkey.')])
    db.delete(passkeys).where(ownOne(actor, id)).run()
    const person = db.select().from(people).where(eq(people.id, actor.personId)).get()
    if (person && !hasSecondFactor(db, person)) dropRecoveryCodes(db, actor)
    noteSecurity(db, clock, { kind: 'passkey-removed', says: row.name, ...keysOf(actor) })
    return done({ name: row.name })
  })
}

/** By the passkey alone: the device has to have made sure of who holds it. */
export async function signInWithPasskey(db: Db, clock: Clock, given: Asked & { readonly from: From }): Promise<Result<SignedIn>> {
  const person = await holderOf(db, clock, { ...given, mustVerify: true })
  return person ? done(letIn(db, clock, person, given.from)) : refusedPasskey(db, clock, { from: given.from, person: null })
}

/** After the password: a key of that person. The ticket bears few tries. */
export async function signInWithPasskeyToo(
  db: Db,
  clock: Clock,
  given: Asked & { readonly ticket: string; readonly from: From },
): Promise<Result<SignedIn>> {
  const tried = tryTicket(db, clock, given.ticket)
  if (!tried) return refused([signInOver()])
  const { person, isByOthers } = tried
  const holder = await holderOf(db, clock, { ...given, mustVerify: false })
  if (holder?.id !== person.id) return refusedPasskey(db, clock, { from: given.from, person })
  return done(letIn(db, clock, holder, { ...given.from, isByOthers }))
}

/** Who answered, with a key of theirs, to a challenge of ours; null for anything else. */
async function holderOf(db: Db, clock: Clock, given: Asked & { readonly mustVerify: boolean }): Promise<Person | null> {
  const answer = parsed<AuthenticationResponseJSON>(given.answer)
  const row = answer && byCredential(db, answer.id)
  if (!row || row.relyingParty !== given.party.id) return null
  const credential = {
    id: row.credentialId,
    publicKey: new Uint8Array(Buffer.from(row.publicKey, 'base64url')),
    counter: row.signCount,
  }
  const { verifyAuthenticationResponse } = await library()
  const proved = await attempted(() =>
    verifyAuthenticationResponse({ ...expected(given), response: answer, credential, requireUserVerification: given.mustVerify }),
  )
  if (!proved?.verified) return null
  const used = inTransaction(db, () => {
    const at = { signCount: proved.authenticationInfo.newCounter, lastUsedAt: clock.now().toISOString() }
    // Of two answers at the same moment with one count, one is a copy's.
    const { changes } = db
      .update(passkeys)
      .set(at)
      .where(and(eq(passkeys.id, row.id), eq(passkeys.signCount, row.signCount)))
      .run()
    const person = db
      .select()
      .from(people)
      .where(and(eq(people.id, row.personId), eq(people.householdId, row.householdId)))
      .get()
    return changes === 1 && person && person.disabledAt === null ? done(person) : refused([notRight()])
  })
  return used.ok ? used.value : null
}

function refusedPasskey(db: Db, clock: Clock, given: { readonly from: From; readonly person: Person | null }): Result<SignedIn> {
  noteSecurity(db, clock, {
    kind: 'sign-in-refused',
    says: 'Passkey not right',
    address: given.from.address,
    ...(given.person === null ? {} : keysOf(actorOf(given.person))),
  })
  return refused([notRight()])
}

function expected({ party, takes }: Asked) {
  return { expectedChallenge: takes, expectedOrigin: party.origin, expectedRPID: party.id }
}

const answerShape = z.looseObject({
  id: z.string().min(1).max(2000),
  rawId: z.string(),
  type: z.literal('public-key'),
  response: z.looseObject({}),
})

/** The outer shape only: what is inside, the library reads and judges. */
function parsed<T>(text: string): T | null {
  try {
    return answerShape.parse(JSON.parse(text)) as T
  } catch {
    return null
  }
}

/** An answer that cannot even be read is an answer that is not right. */
async function attempted<T>(verify: () => Promise<T>): Promise<T | null> {
  try {
    return await verify()
  } catch {
    return null
  }
}

function notRight(): Refusal {
  return refusal('passkey-not-right', 'That passkey was not taken: it is not known here, or it took too long. Try again.')
}

function rowsFor(db: Db, personId: string, relyingParty: string) {
  return db
    .select()
    .from(passkeys)
    .where(and(eq(passkeys.personId, personId), eq(passkeys.relyingParty, relyingParty)))
    .all()
}

function described(row: typeof passkeys.$inferSelect) {
  return { id: row.credentialId, transports: JSON.parse(row.transports) as string[] }
}

function byCredential(db: Db, credentialId: string) {
  return db.select().from(passkeys).where(eq(passkeys.credentialId, credentialId)).get()
}

function ownOne(actor: Actor, id: string) {
  return and(eq(passkeys.id, id), eq(passkeys.personId, actor.personId), eq(passkeys.householdId, actor.householdId))
}
