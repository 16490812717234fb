/** The last step of every way in: a session is begun, or the second factor is asked for first. */
import { and, eq, gte, lt, lte, or } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor, Refusal } from './contract.ts'
import type { Db } from './database.ts'
import { refusal } from './refusals.ts'
import { knownDevices, passkeys, people, signInTickets } from './schema.ts'
import { noteSecurity } from './security-log.ts'
import { beginSession, type From } from './sessions.ts'
import { hashToken, newToken } from './tokens.ts'

const TICKET_ms = 5 * 60_000
const TICKET_tries = 5
/**
 * How long a device that somebody signed in on is known again, as its cookie in the browser: RFC 6265bis, 5.5, has none live longer. It has
 * to outlive every session, or a device would be a stranger just when its session has ended and the password is asked for.
 */
export const DEVICE_KNOWN_days = 400

export type Person = typeof people.$inferSelect
/** Either in, or the second factor is asked for with this ticket. */
export type SignedIn =
  | { readonly state: 'in'; readonly token: string; readonly deviceToken: string; readonly actor: Actor }
  | { readonly state: 'second-factor'; readonly ticket: string }

/** After the password, or a provider's word: whoever has a second factor shows it too. */
export function enter(db: Db, clock: Clock, person: Person, from: From): SignedIn {
  return hasSecondFactor(db, person)
    ? { state: 'second-factor', ticket: openTicket(db, clock, person, from) }
    : letIn(db, clock, person, from)
}

/** Begins a session; every ticket of the person is over. */
export function letIn(db: Db, clock: Clock, person: Person, from: From): SignedIn {
  const actor = actorOf(person)
  db.delete(signInTickets).where(eq(signInTickets.personId, person.id)).run()
  const deviceToken = newToken()
  db.insert(knownDevices)
    .values({
      tokenHash: hashToken(deviceToken),
      householdId: person.householdId,
      personId: person.id,
      lastUsedAt: clock.now().toISOString(),
    })
    .run()
  noteSecurity(db, clock, { kind: 'signed-in', says: from.device.slice(0, 120), address: from.address, ...keysOf(actor) })
  return { state: 'in', token: beginSession(db, clock, person, from), deviceToken, actor }
}

export function hasSecondFactor(db: Db, person: { readonly id: string; readonly secondFactor: string | null }): boolean {
  return person.secondFactor !== null || hasPasskey(db, person.id)
}

export function hasPasskey(db: Db, personId: string): boolean {
  return db.select({ id: passkeys.id }).from(passkeys).where(eq(passkeys.personId, personId)).limit(1).get() !== undefined
}

/** Whose ticket it is; null for one that is wrong, too old, tried too often, or of somebody who may not come in. */
export function ticketHolder(db: Db, clock: Clock, ticket: string): Person | null {
  const row = db
    .select({ ticket: signInTickets, person: people })
    .from(signInTickets)
    .innerJoin(people, and(eq(people.id, signInTickets.personId), eq(people.householdId, signInTickets.householdId)))
    .where(eq(signInTickets.tokenHash, hashToken(ticket)))
    .get()
  const isOpen =
    row && row.ticket.expiresAt > clock.now().toISOString() && row.ticket.tries < TICKET_tries && row.person.disabledAt === null
  return isOpen ? row.person : null
}

/** As `ticketHolder`, and one of the ticket's few tries is used up by it. `isByOthers`: the ticket was given on a provider's word. */
export function tryTicket(db: Db, clock: Clock, ticket: string): { readonly person: Person; readonly isByOthers: boolean } | null {
  const person = ticketHolder(db, clock, ticket)
  if (person === null) return null
  const tokenHash = hashToken(ticket)
  const row = db.select().from(signInTickets).where(eq(signInTickets.tokenHash, tokenHash)).get()
  db.update(signInTickets)
    .set({ tries: (row?.tries ?? 0) + 1 })
    .where(eq(signInTickets.tokenHash, tokenHash))
    .run()
  return { person, isByOthers: row?.isByOthers === true }
}

export function signInOver(): Refusal {
  return refusal('sign-in-over', 'That took too long or too many tries. Sign in again from the start.')
}

export function actorOf(person: Person): Actor {
  return { householdId: person.householdId, personId: person.id, name: person.name, role: person.role }
}

export function keysOf(actor: Actor): { readonly householdId: string; readonly personId: string } {
  return { householdId: actor.householdId, personId: actor.personId }
}

/** Tickets that are too old or were tried too often, and devices whose cookie no browser has any more. */
export function forgetOldEntering(db: Db, clock: Clock): number {
  const now = clock.now()
  const longAgo = new Date(now.getTime() - DEVICE_KNOWN_days * 86_400_000).toISOString()
  const isOver = or(lte(signInTickets.expiresAt, now.toISOString()), gte(signInTickets.tries, TICKET_tries))
  const tickets = db.delete(signInTickets).where(isOver).run().changes
  return tickets + db.delete(knownDevices).where(lt(knownDevices.lastUsedAt, longAgo)).run().changes
}

function openTicket(db: Db, clock: Clock, person: Person, from: From): string {
  const ticket = newToken()
  db.insert(signInTickets)
    .values({
      tokenHash: hashToken(ticket),
      householdId: person.householdId,
      personId: person.id,
      expiresAt: new Date(clock.now().getTime() + TICKET_ms).toISOString(),
      tries: 0,
      isByOthers: from.isByOthers === true,
    })
    .run()
  return ticket
}
