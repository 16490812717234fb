/** Build pages handed out: to whom, of which vehicle, what is on them and until when. The address holds a token of 256 bits; only its hash is kept. */
import { and, desc, eq } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor, Refusal, Result } from './contract.ts'
import { noteBeside } from './damage.ts'
import type { Db } from './database.ts'
import { vehicleRow } from './entry-rows.ts'
import { newId } from './ids.ts'
import { done, refusal, refused } from './refusals.ts'
import { shares } from './schema.ts'
import { noteSecurity } from './security-log.ts'
import { hashToken, newToken } from './tokens.ts'

/** What is private and stays out unless it is let through, each by itself. */
export const PRIVATE = ['vin', 'plate', 'prices', 'suppliers', 'places', 'names', 'addresses'] as const
export type Private = (typeof PRIVATE)[number]

/** What a build page shows. */
export type Shows = {
  readonly v: 1
  /** ids of its pages; what each holds is said where pages are made */
  readonly pages: readonly string[]
  readonly lets: readonly Private[]
  /** YYYY-MM-DD: entries before it are left out; null: none are */
  readonly journalFrom: string | null
  /** photo ids */
  readonly withoutPhotos: readonly string[]
}

/** All that the pages are made from. It stands in for an actor: it reaches one vehicle. */
export type OpenShare = {
  readonly householdId: string
  readonly vehicleId: string
  readonly shows: Shows
  /** instant: photos recorded later were never looked at for this link and stay out */
  readonly photosUntil: string
  /** instant, UTC */
  readonly expiresAt: string
}

export type ShareFacts = {
  readonly id: string
  readonly recipient: string
  readonly shows: Shows
  readonly state: 'open' | 'revoked' | 'expired'
  readonly expiresAt: string
  readonly lastUsedAt: string | null
  readonly recordedAt: string
}

const MOST_days = 730
const TOUCH_ms = 60_000
const DAY = /^\d{4}-\d{2}-\d{2}$/

/** The token is answered once and kept nowhere. `expiresOn` is the last day it is good for, in UTC: a link always ends. */
export function makeShare(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: { readonly vehicleId: string; readonly recipient: string; readonly expiresOn: string; readonly shows: Shows },
): Result<{ id: string; token: string }> {
  const { vehicleId, shows } = given
  if (!vehicleRow(db, actor, vehicleId)) return refused([refusal('not-found', 'There is no such vehicle.')])
  const recipient = given.recipient.trim()
  const expiresAt = `${given.expiresOn}T23:59:59.999Z`
  const faults: Refusal[] = []
  if (recipient.length < 1 || recipient.length > 80)
    faults.push(refusal('not-valid', 'Say who it is for, in 1 to 80 letters: each link is for one recipient.', { field: 'recipient' }))
  if (!isAhead(clock, expiresAt))
    faults.push(refusal('not-valid', 'Give a last day that is still to come, within two years.', { field: 'expiresOn' }))
  if (shows.pages.length === 0) faults.push(refusal('not-valid', 'Tick at least one page to show.', { field: 'pages' }))
  if (faults.length > 0) return refused(faults)
  const token = newToken()
  const id = newId(clock)
  const { householdId, personId } = actor
  const recordedAt = clock.now().toISOString()
  db.insert(shares)
    .values({
      ...{ id, tokenHash: hashToken(token), householdId, vehicleId, recipient, shows: JSON.stringify(shows) },
      ...{ expiresAt, recordedAt, recordedBy: personId },
    })
    .run()
  noteSecurity(db, clock, { kind: 'build-page-made', says: `for ${recipient}, until ${given.expiresOn}`, householdId, personId })
  return done({ id, token })
}

/** The newest first, those that no longer open too. */
export function sharesOf(db: Db, clock: Clock, actor: Actor, vehicleId: string): readonly ShareFacts[] {
  const now = clock.now().toISOString()
  return db
    .select()
    .from(shares)
    .where(and(eq(shares.vehicleId, vehicleId), eq(shares.householdId, actor.householdId)))
    .orderBy(desc(shares.id))
    .all()
    .map(({ id, recipient, shows, expiresAt, revokedAt, lastUsedAt, recordedAt }) => ({
      ...{ id, recipient, shows: JSON.parse(shows) as Shows },
      state: revokedAt !== null ? 'revoked' : expiresAt <= now ? 'expired' : 'open',
      ...{ expiresAt, lastUsedAt, recordedAt },
    }))
}

/** From now on its address answers as one that never was, photos and all. Said twice it says the same; false where there is no such link. */
export function revokeShare(db: Db, clock: Clock, actor: Actor, given: { readonly vehicleId: string; readonly id: string }): boolean {
  const { householdId, personId } = actor
  const mine = and(eq(shares.id, given.id), eq(shares.vehicleId, given.vehicleId), eq(shares.householdId, householdId))
  const found = db.select({ recipient: shares.recipient, revokedAt: shares.revokedAt }).from(shares).where(mine).get()
  if (!found) return false
  if (found.revokedAt !== null) return true
  db.update(shares).set({ revokedAt: clock.now().toISOString() }).where(mine).run()
  noteSecurity(db, clock, { kind: 'build-page-revoked', says: `for ${found.recipient}`, householdId, personId })
  return true
}

/** Null for a token that is wrong, expired or revoked: no telling which. All of them are hashed and asked for in the same way. */
export function openShare(db: Db, clock: Clock, token: string): OpenShare | null {
  const tokenHash = hashToken(token)
  const row = db.select().from(shares).where(eq(shares.tokenHash, tokenHash)).get()
  const now = clock.now()
  if (!row || row.revokedAt !== null || row.expiresAt <= now.toISOString()) return null
  if (row.lastUsedAt === null || Math.abs(now.getTime() - Date.parse(row.lastUsedAt)) > TOUCH_ms)
    noteBeside(() => db.update(shares).set({ lastUsedAt: now.toISOString() }).where(eq(shares.tokenHash, tokenHash)).run())
  const { householdId, vehicleId, recordedAt, expiresAt } = row
  return { householdId, vehicleId, shows: JSON.parse(row.shows) as Shows, photosUntil: recordedAt, expiresAt }
}

function isAhead(clock: Clock, expiresAt: string): boolean {
  const ahead_ms = DAY.test(expiresAt.slice(0, 10)) ? Date.parse(expiresAt) - clock.now().getTime() : Number.NaN
  return ahead_ms > 0 && ahead_ms <= MOST_days * 86_400_000
}
