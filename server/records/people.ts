/** Past 200 lines: everything about accounts. People of a household: the first owner, those invited, their roles, and how each signs in. */
import { and, asc, eq, isNull, type SQL } from 'drizzle-orm'
import { changeKept, isAsKept, keepChangingDigest } from './changing-digests.ts'
import type { Clock } from './clock.ts'
import type { Actor, Refusal, Result, Role } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { actorOf, enter, hasSecondFactor, keysOf, letIn, type Person, type SignedIn, signInOver, tryTicket } from './entering.ts'
import { newId } from './ids.ts'
import { faultsOfPassword, hashPassword, hashPasswordNow, passwordMatches, UNMATCHABLE } from './passwords.ts'
import { changePerson } from './person-rows.ts'
import { plainForm } from './plain-form.ts'
import { done, refusal, refused } from './refusals.ts'
import { households, invitations, knownDevices, passwordResets, people, signInTickets } from './schema.ts'
import { useSecondFactor } from './second-factor.ts'
import { noteSecurity } from './security-log.ts'
import { beginSession, endSessionsOf, type From } from './sessions.ts'
import { hashToken, newToken } from './tokens.ts'

const INVITATION_days = 7

type Invitation = typeof invitations.$inferSelect

export type PersonFacts = {
  readonly id: string
  readonly name: string
  readonly role: Role
  readonly isDisabled: boolean
  readonly hasSecondFactor: boolean
  /** codes of the moment are set up */
  readonly hasCodes: boolean
  /** as an owner set it; empty: none */
  readonly email: string
  readonly recordedAt: string
}

export function isFirstRun(db: Db): boolean {
  return db.select({ id: people.id }).from(people).limit(1).get() === undefined
}

/** The first account of an installation; refused once there is one. */
export function createOwner(db: Db, clock: Clock, given: { readonly name: string; readonly password: string }): Result<Actor> {
  const faults = [...faultsOfName(given.name), ...faultsOfPassword(given.password, { name: given.name })]
  if (faults.length > 0) return refused(faults)
  const passwordHash = hashPasswordNow(given.password)
  return inTransaction(db, () => {
    if (!isFirstRun(db)) return refused([refusal('already-set-up', 'This Loombook already has an owner. Sign in instead.')])
    const householdId = newId(clock)
    db.insert(households).values({ id: householdId, recordedAt: clock.now().toISOString() }).run()
    return done(addPerson(db, clock, { householdId, name: given.name, role: 'owner', passwordHash }))
  })
}

/** For the machine's own commands: the owners of the installation, the first one first. */
export function ownersOf(db: Db): readonly Actor[] {
  return db.select().from(people).where(eq(people.role, 'owner')).orderBy(asc(people.id)).all().map(actorOf)
}

/** The answer and the time it takes are the same for a name that nobody has. */
export async function signIn(
  db: Db,
  clock: Clock,
  given: { readonly name: string; readonly password: string; readonly from?: From },
): Promise<Result<SignedIn>> {
  const from = given.from ?? { device: '', address: '' }
  const known = personNamed(db, given.name)
  const { right, isOld } = await passwordMatches(given.password, known?.passwordHash ?? UNMATCHABLE)
  // Read once more: what was changed while the password was tried counts.
  const person = personNamed(db, given.name)
  if (!person || !right || person.disabledAt !== null || person.passwordHash !== known?.passwordHash) {
    noteSecurity(db, clock, {
      kind: 'sign-in-refused',
      says: `Name given: ${given.name.slice(0, 80)}`,
      address: from.address,
      householdId: person?.householdId ?? null,
      personId: person?.id ?? null,
    })
    return refused([refusal('wrong-name-or-password', 'That name and password do not go together.')])
  }
  if (isOld) {
    const passwordHash = await hashPassword(given.password)
    inTransaction(db, () => {
      // What was altered is left as it is found: nobody asked for this change, so it is no reason to keep them out.
      if (!isAsKept(db, 'people', person.id)) return done(null)
      changeKept(db, {
        table: 'people',
        id: person.id,
        write: () =>
          db
            .update(people)
            .set({ passwordHash })
            .where(and(eq(people.id, person.id), eq(people.passwordHash, person.passwordHash)))
            .run(),
      })
      return done(null)
    })
  }
  return done(enter(db, clock, person, from))
}

/** The second step: a code of the moment, or one of the recovery codes. A ticket bears few tries. */
export function signInWithCode(
  db: Db,
  clock: Clock,
  given: { readonly ticket: string; readonly code: string; readonly from: From },
): Result<SignedIn> {
  const tried = tryTicket(db, clock, given.ticket)
  if (!tried) return refused([signInOver()])
  const { person, isByOthers } = tried
  const actor = actorOf(person)
  if (!useSecondFactor(db, clock, actor, given.code)) {
    noteSecurity(db, clock, { kind: 'sign-in-refused', says: 'Wrong second factor', address: given.from.address, ...keysOf(actor) })
    return refused([refusal('wrong-code', 'That code is not right, or was used already. Wait for the next one.', { field: 'code' })])
  }
  return done(letIn(db, clock, person, { ...given.from, isByOthers }))
}

/** On a trusted proxy's word: null where nobody has that name, or may not come in. Second factors are the proxy's own affair. */
export function enterByProxy(db: Db, clock: Clock, name: string, from: From): string | null {
  const person = personNamed(db, name)
  if (!person || person.disabledAt !== null) return null
  noteSecurity(db, clock, { kind: 'signed-in', says: 'By the proxy', address: from.address, ...keysOf(actorOf(person)) })
  return beginSession(db, clock, person, { ...from, isByOthers: true })
}

/** Whether this password is this person's: asked again before what matters. */
export async function isPasswordOf(db: Db, actor: Actor, password: string): Promise<boolean> {
  const person = personRow(db, actor, actor.personId)
  return person !== undefined && (await passwordMatches(password, person.passwordHash)).right
}

/** Ends every other session of the person. */
export async function changePassword(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: { readonly present: string; readonly next: string; readonly token: string | null },
): Promise<Result<{ ended: number }>> {
  if (!(await isPasswordOf(db, actor, given.present)))
    return refused([refusal('not-valid', 'That is not the present password.', { field: 'present' })])
  const faults = faultsOfPassword(given.next, { field: 'next', name: actor.name })
  if (faults.length > 0) return refused(faults)
  return setPassword(db, clock, actor, { password: given.next, butToken: given.token })
}

export function peopleOf(db: Db, actor: Actor): readonly PersonFacts[] {
  return db
    .select()
    .from(people)
    .where(eq(people.householdId, actor.householdId))
    .orderBy(asc(people.id))
    .all()
    .map((person) => ({
      id: person.id,
      name: person.name,
      role: person.role,
      isDisabled: person.disabledAt !== null,
      hasSecondFactor: hasSecondFactor(db, person),
      email: person.email ?? '',
      hasCodes: person.secondFactor !== null,
      recordedAt: person.recordedAt,
    }))
}

/** The token is shown once; its address lets one person in, within a week. */
export function invite(db: Db, clock: Clock, actor: Actor, role: Role): Result<{ token: string; expiresAt: string }> {
  const token = newToken()
  const now = clock.now()
  const expiresAt = new Date(now.getTime() + INVITATION_days * 86_400_000).toISOString()
  db.insert(invitations)
    .values({
      tokenHash: hashToken(token),
      householdId: actor.householdId,
      role,
      expiresAt,
      recordedAt: now.toISOString(),
      recordedBy: actor.personId,
    })
    .run()
  noteSecurity(db, clock, { kind: 'invited', says: `As ${role}`, ...keysOf(actor) })
  return done({ token, expiresAt })
}

/** Null for one that is wrong, used, taken back or too old: no telling which. */
export function invitationOf(db: Db, clock: Clock, token: string): { readonly role: Role } | null {
  const row = invitationRow(db, clock, token)
  return row ? { role: row.role } : null
}

export function openInvitations(
  db: Db,
  clock: Clock,
  actor: Actor,
): readonly { readonly id: string; readonly role: Role; readonly expiresAt: string }[] {
  return openRows(db, actor)
    .filter((row) => row.expiresAt > clock.now().toISOString())
    .map((row) => ({ id: row.tokenHash.slice(0, 16), role: row.role, expiresAt: row.expiresAt }))
}

export function revokeInvitation(db: Db, clock: Clock, actor: Actor, id: string): boolean {
  const found = openRows(db, actor).find((row) => row.tokenHash.slice(0, 16) === id)
  if (!found) return false
  db.update(invitations).set({ revokedAt: clock.now().toISOString() }).where(eq(invitations.tokenHash, found.tokenHash)).run()
  noteSecurity(db, clock, { kind: 'invitation-revoked', says: `As ${found.role}`, ...keysOf(actor) })
  return true
}

export async function join(
  db: Db,
  clock: Clock,
  given: { readonly token: string; readonly name: string; readonly password: string },
): Promise<Result<Actor>> {
  if (!invitationRow(db, clock, given.token)) return refused([noInvitation()])
  const faults = [...faultsOfName(given.name), ...faultsOfPassword(given.password, { name: given.name })]
  if (faults.length > 0) return refused(faults)
  const passwordHash = await hashPassword(given.password)
  return inTransaction(db, () => {
    // Once more, within the transaction: of two who use one invitation at the same time the second is refused.
    const invitation = invitationRow(db, clock, given.token)
    if (!invitation) return refused([noInvitation()])
    if (personNamed(db, given.name)) return refused([refusal('name-taken', 'Somebody here has that name already.', { field: 'name' })])
    db.update(invitations).set({ usedAt: clock.now().toISOString() }).where(eq(invitations.tokenHash, invitation.tokenHash)).run()
    const actor = addPerson(db, clock, { householdId: invitation.householdId, name: given.name, role: invitation.role, passwordHash })
    noteSecurity(db, clock, { kind: 'joined', says: `${actor.name} as ${invitation.role}`, ...keysOf(actor) })
    return done(actor)
  })
}

/** Of the household's owners one has to stay one. */
export function setRole(db: Db, clock: Clock, actor: Actor, personId: string, role: Role): Result<{ name: string }> {
  return inTransaction(db, () => {
    const person = personRow(db, actor, personId)
    if (!person) return refused([noPerson()])
    if (role !== 'owner' && isLastOwner(db, actor, personId)) return refused([lastOwner()])
    changePerson(db, { personId, householdId: actor.householdId }, { role })
    noteSecurity(db, clock, { kind: 'role-changed', says: `${person.name}: ${person.role} to ${role}`, ...keysOf(actor) })
    return done({ name: person.name })
  })
}

/** Someone who may no longer come in keeps their name on what they recorded. Every session of theirs ends. */
export function setDisabled(db: Db, clock: Clock, actor: Actor, personId: string, isDisabled: boolean): Result<{ name: string }> {
  return inTransaction(db, () => {
    const person = personRow(db, actor, personId)
    if (!person) return refused([noPerson()])
    if (isDisabled && isLastOwner(db, actor, personId)) return refused([lastOwner()])
    changePerson(db, { personId, householdId: actor.householdId }, { disabledAt: isDisabled ? clock.now().toISOString() : null })
    if (isDisabled) endSessionsOf(db, person, null)
    noteSecurity(db, clock, { kind: isDisabled ? 'disabled' : 'enabled', says: person.name, ...keysOf(actor) })
    return done({ name: person.name })
  })
}

/** Whose device this is, by the cookie it was given when it last signed in. */
export function knownDeviceOf(db: Db, deviceToken: string, name: string): string | null {
  const row = db
    .select({ tokenHash: knownDevices.tokenHash })
    .from(knownDevices)
    .innerJoin(people, and(eq(people.id, knownDevices.personId), eq(people.householdId, knownDevices.householdId)))
    .where(and(eq(knownDevices.tokenHash, hashToken(deviceToken)), eq(people.nameFolded, folded(name))))
    .get()
  return row?.tokenHash ?? null
}

/** The longest name has 80 letters: one of more than a thousand is nobody's, however it is cut. */
export function folded(name: string): string {
  return plainForm(name.trim()).toLowerCase()
}

function addPerson(
  db: Db,
  clock: Clock,
  given: { readonly householdId: string; readonly name: string; readonly role: Role; readonly passwordHash: string },
): Actor {
  const { householdId, role, passwordHash } = given
  const name = given.name.trim()
  const id = newId(clock)
  db.insert(people)
    .values({ id, householdId, name, nameFolded: folded(name), passwordHash, role, recordedAt: clock.now().toISOString() })
    .run()
  keepChangingDigest(db, 'people', id)
  return { householdId, personId: id, name, role }
}

/** Ends the person's sessions but one, and every way in that was half open. */
export async function setPassword(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: { readonly password: string; readonly butToken: string | null },
): Promise<Result<{ ended: number }>> {
  const passwordHash = await hashPassword(given.password)
  return inTransaction(db, () => {
    changePerson(db, actor, { passwordHash })
    db.delete(signInTickets).where(eq(signInTickets.personId, actor.personId)).run()
    db.delete(passwordResets).where(eq(passwordResets.personId, actor.personId)).run()
    const ended = endSessionsOf(db, { id: actor.personId, householdId: actor.householdId }, given.butToken)
    noteSecurity(db, clock, { kind: 'password-changed', says: `${ended} other sessions ended`, ...keysOf(actor) })
    return done({ ended })
  })
}

export function personNamed(db: Db, name: string): Person | undefined {
  return db
    .select()
    .from(people)
    .where(eq(people.nameFolded, folded(name)))
    .get()
}

function personRow(db: Db, actor: Actor, personId: string): Person | undefined {
  return db
    .select()
    .from(people)
    .where(and(eq(people.id, personId), eq(people.householdId, actor.householdId)))
    .get()
}

function isLastOwner(db: Db, actor: Actor, personId: string): boolean {
  const owners = peopleOf(db, actor).filter((one) => one.role === 'owner' && !one.isDisabled)
  return owners.length === 1 && owners[0]?.id === personId
}

function openRows(db: Db, actor: Actor): readonly Invitation[] {
  return invitationsWhere(
    db,
    and(eq(invitations.householdId, actor.householdId), isNull(invitations.usedAt), isNull(invitations.revokedAt)),
  )
}

function invitationRow(db: Db, clock: Clock, token: string): Invitation | null {
  const [row] = invitationsWhere(db, eq(invitations.tokenHash, hashToken(token)))
  return row && row.usedAt === null && row.revokedAt === null && row.expiresAt > clock.now().toISOString() ? row : null
}

/** Only of those who could invite still: what an owner handed out opens no way back once they are none any more. */
function invitationsWhere(db: Db, where: SQL | undefined): readonly Invitation[] {
  const isByOwner = and(
    eq(people.id, invitations.recordedBy),
    eq(people.householdId, invitations.householdId),
    eq(people.role, 'owner'),
    isNull(people.disabledAt),
  )
  return db
    .select({ invitation: invitations })
    .from(invitations)
    .innerJoin(people, isByOwner)
    .where(where)
    .all()
    .map((row) => row.invitation)
}

function faultsOfName(given: string): readonly Refusal[] {
  const name = given.trim()
  return name.length < 1 || name.length > 80 ? [refusal('not-valid', 'Give a name of 1 to 80 letters.', { field: 'name' })] : []
}

function noInvitation(): Refusal {
  return refusal('not-found', 'This invitation does not work: it was used, taken back or is too old. Ask for another.')
}

function noPerson(): Refusal {
  return refusal('not-found', 'There is no such person.')
}

function lastOwner(): Refusal {
  return refusal('last-owner', 'A household needs an owner: make somebody else one first.')
}
