/** Sessions: begun, asked for, listed, ended. Only a hash of each token is kept. */
import type { Statement } from 'better-sqlite3'
import { and, desc, eq, lt, ne } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor } from './contract.ts'
import { noteBeside } from './damage.ts'
import type { Db } from './database.ts'
import { type people, sessions } from './schema.ts'
import { hashToken, newToken } from './tokens.ts'

/** ASVS 7.3: a session ends so long after it began, and so long after it was last used. */
export const LASTS_days = 90
/** ASVS 7.6.1: one begun on another's word outlives what that other knows by no more than this; then it is asked for again. */
const LASTS_BY_OTHERS_days = 7
const IDLE_days = 30
/** A password given so lately need not be given again for what matters. */
const CONFIRMED_ms = 15 * 60_000
const TOUCH_ms = 5 * 60_000

/** `isByOthers`: let in on the word of a provider or a proxy, so that the password still has to be given before what matters, and it lasts a week. */
export type From = { readonly device: string; readonly address: string; readonly isByOthers?: boolean }
export type OpenSession = { readonly actor: Actor; readonly formSecret: string; readonly isConfirmed: boolean }
export type SessionFacts = {
  /** names the session in a list; opens nothing */
  readonly id: string
  readonly device: string
  readonly address: string
  readonly startedAt: string
  readonly lastUsedAt: string
  readonly isThis: boolean
}

export function beginSession(db: Db, clock: Clock, person: { readonly id: string; readonly householdId: string }, from: From): string {
  const token = newToken()
  const now = clock.now()
  db.insert(sessions)
    .values({
      tokenHash: hashToken(token),
      householdId: person.householdId,
      personId: person.id,
      formSecret: newToken(),
      startedAt: now.toISOString(),
      expiresAt: inDays(now, from.isByOthers === true ? LASTS_BY_OTHERS_days : LASTS_days),
      device: from.device.slice(0, 200),
      address: from.address.slice(0, 64),
      lastUsedAt: now.toISOString(),
      confirmedAt: from.isByOthers === true ? null : now.toISOString(),
    })
    .run()
  return token
}

/** Null where there is none, it has ended, or its person may no longer come in. `formSecret` is what form tokens are made from. */
export function sessionOf(db: Db, clock: Clock, token: string): OpenSession | null {
  const tokenHash = hashToken(token)
  const row = readSession(db).get(tokenHash) as ReadSession | undefined
  const now = clock.now()
  if (!row || row.disabledAt !== null || isOver(row, now)) return null
  const used_ms = Date.parse(row.lastUsedAt ?? row.startedAt)
  if (Math.abs(now.getTime() - used_ms) > TOUCH_ms)
    noteBeside(() => db.update(sessions).set({ lastUsedAt: now.toISOString() }).where(eq(sessions.tokenHash, tokenHash)).run())
  const { householdId, personId, formSecret, confirmedAt } = row
  const since_ms = confirmedAt === null ? Number.POSITIVE_INFINITY : now.getTime() - Date.parse(confirmedAt)
  return {
    actor: { householdId, personId, name: row.name, role: row.role },
    formSecret,
    isConfirmed: since_ms >= 0 && since_ms < CONFIRMED_ms,
  }
}

type ReadSession = Pick<
  typeof sessions.$inferSelect,
  'householdId' | 'personId' | 'formSecret' | 'startedAt' | 'expiresAt' | 'lastUsedAt' | 'confirmedAt'
> &
  Pick<typeof people.$inferSelect, 'name' | 'role' | 'disabledAt'>

/** Every request asks for its session: the question is prepared once. */
const prepared = new WeakMap<Db, Statement>()

function readSession(db: Db): Statement {
  const known = prepared.get(db)
  if (known) return known
  const made = db.$client.prepare(
    `SELECT s.household_id AS householdId, s.person_id AS personId, s.form_secret AS formSecret, s.started_at AS startedAt,
       s.expires_at AS expiresAt, s.last_used_at AS lastUsedAt, s.confirmed_at AS confirmedAt, p.name, p.role, p.disabled_at AS disabledAt
     FROM sessions s JOIN people p ON p.id = s.person_id AND p.household_id = s.household_id WHERE s.token_hash = ?`,
  )
  prepared.set(db, made)
  return made
}

export function confirmSession(db: Db, clock: Clock, token: string): void {
  db.update(sessions)
    .set({ confirmedAt: clock.now().toISOString() })
    .where(eq(sessions.tokenHash, hashToken(token)))
    .run()
}

export function endSession(db: Db, token: string): void {
  db.delete(sessions)
    .where(eq(sessions.tokenHash, hashToken(token)))
    .run()
}

/** Ends one of the person's own sessions by its name in the list. */
export function endSessionNamed(db: Db, actor: Actor, id: string): boolean {
  const found = db
    .select({ tokenHash: sessions.tokenHash })
    .from(sessions)
    .where(and(eq(sessions.personId, actor.personId), eq(sessions.householdId, actor.householdId)))
    .all()
    .find((row) => nameOf(row.tokenHash) === id)
  if (!found) return false
  db.delete(sessions).where(eq(sessions.tokenHash, found.tokenHash)).run()
  return true
}

/** All of a person's sessions, but for the one that asks. */
export function endSessionsOf(db: Db, person: { readonly id: string; readonly householdId: string }, butToken: string | null): number {
  const theirs = and(eq(sessions.personId, person.id), eq(sessions.householdId, person.householdId))
  return db
    .delete(sessions)
    .where(butToken === null ? theirs : and(theirs, ne(sessions.tokenHash, hashToken(butToken))))
    .run().changes
}

export function sessionsOf(db: Db, actor: Actor, token: string): readonly SessionFacts[] {
  const own = hashToken(token)
  return db
    .select()
    .from(sessions)
    .where(and(eq(sessions.personId, actor.personId), eq(sessions.householdId, actor.householdId)))
    .orderBy(desc(sessions.startedAt))
    .all()
    .map((row) => ({
      id: nameOf(row.tokenHash),
      device: row.device,
      address: row.address,
      startedAt: row.startedAt,
      lastUsedAt: row.lastUsedAt ?? row.startedAt,
      isThis: row.tokenHash === own,
    }))
}

export function forgetOldSessions(db: Db, clock: Clock): number {
  return db.delete(sessions).where(lt(sessions.expiresAt, clock.now().toISOString())).run().changes
}

/** A clock set back before the session began makes no session eternal: what begins in the future is over. */
function isOver(session: Pick<ReadSession, 'startedAt' | 'expiresAt' | 'lastUsedAt' | 'confirmedAt'>, now: Date): boolean {
  const at = now.toISOString()
  // One in which no password was ever given: begun before such a session was given a week, its row still names ninety days.
  const onOthersWord = session.confirmedAt === null && inDays(new Date(session.startedAt), LASTS_BY_OTHERS_days) <= at
  const idle = inDays(new Date(session.lastUsedAt ?? session.startedAt), IDLE_days)
  const aheadOfTime = Date.parse(session.startedAt) - now.getTime() > 86_400_000
  return session.expiresAt <= at || onOthersWord || idle <= at || aheadOfTime
}

function inDays(from: Date, days: number): string {
  return new Date(from.getTime() + days * 86_400_000).toISOString()
}

/** Part of the hash: enough to tell a person's few sessions apart, of no use to anybody else. */
function nameOf(tokenHash: string): string {
  return tokenHash.slice(0, 16)
}
