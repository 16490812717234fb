/** Feeds that a calendar or a reader fetches without signing in: the address holds a token of 256 bits, of which only the hash is kept. */
import { createHash, randomBytes } from 'node:crypto'
import { and, desc, eq, isNull } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor, Result } from './contract.ts'
import { noteBeside } from './damage.ts'
import type { Db } from './database.ts'
import { vehicleRow } from './entry-rows.ts'
import { done, refusal, refused } from './refusals.ts'
import { feeds, people } from './schema.ts'
import { noteSecurity } from './security-log.ts'

export type FeedKind = 'due' | 'journal'
export type Feed = {
  /** the hash of its token, which opens nothing */
  readonly id: string
  readonly kind: FeedKind
  readonly vehicleId: string | null
  readonly recordedAt: string
  readonly lastUsedAt: string | null
}
const NAMES: Readonly<Record<FeedKind, string>> = { due: 'What falls due', journal: 'The journal' }
/** Who a feed reads for, and of what. */
export type OpenFeed = { readonly actor: Actor; readonly vehicleId: string | null }

/** The token is answered once and is kept nowhere. */
export function makeFeed(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: { readonly kind: FeedKind; readonly vehicleId?: string | undefined },
): Result<{ token: string }> {
  if (given.vehicleId !== undefined && !vehicleRow(db, actor, given.vehicleId))
    return refused([refusal('not-valid', 'There is no such vehicle.', { field: 'vehicleId' })])
  const token = randomBytes(32).toString('base64url')
  db.insert(feeds)
    .values({
      tokenHash: hashOf(token),
      householdId: actor.householdId,
      vehicleId: given.vehicleId ?? null,
      kind: given.kind,
      recordedAt: clock.now().toISOString(),
      recordedBy: actor.personId,
    })
    .run()
  noteSecurity(db, clock, { kind: 'feed-made', says: NAMES[given.kind], householdId: actor.householdId, personId: actor.personId })
  return done({ token })
}

/** Those that still answer, the newest first. */
export function feedsOf(db: Db, actor: Actor): Feed[] {
  return db
    .select({
      id: feeds.tokenHash,
      kind: feeds.kind,
      vehicleId: feeds.vehicleId,
      recordedAt: feeds.recordedAt,
      lastUsedAt: feeds.lastUsedAt,
    })
    .from(feeds)
    .where(and(eq(feeds.householdId, actor.householdId), isNull(feeds.revokedAt)))
    .orderBy(desc(feeds.recordedAt), feeds.tokenHash)
    .all()
}

/** From now on its address answers as one that never was. */
export function revokeFeed(db: Db, clock: Clock, actor: Actor, id: string): Result<null> {
  const { changes } = db
    .update(feeds)
    .set({ revokedAt: clock.now().toISOString() })
    .where(and(eq(feeds.tokenHash, id), eq(feeds.householdId, actor.householdId), isNull(feeds.revokedAt)))
    .run()
  if (changes === 0) return refused([refusal('not-found', 'There is no such feed any more.')])
  noteSecurity(db, clock, { kind: 'feed-revoked', says: '', householdId: actor.householdId, personId: actor.personId })
  return done(null)
}

/** The feed of that address, noted as used; null for a wrong token, a revoked one, one of the other kind, or of who may not come in. */
export function openFeed(db: Db, clock: Clock, given: { readonly token: string; readonly kind: FeedKind }): OpenFeed | null {
  // Somebody whom the door was closed to still has its address.
  const isOfSomebodyHere = and(eq(people.id, feeds.recordedBy), eq(people.householdId, feeds.householdId), isNull(people.disabledAt))
  const row = db
    .select({ tokenHash: feeds.tokenHash, householdId: feeds.householdId, vehicleId: feeds.vehicleId, recordedBy: feeds.recordedBy })
    .from(feeds)
    .innerJoin(people, isOfSomebodyHere)
    .where(and(eq(feeds.tokenHash, hashOf(given.token)), eq(feeds.kind, given.kind), isNull(feeds.revokedAt)))
    .get()
  if (!row) return null
  const mine = and(eq(feeds.tokenHash, row.tokenHash), eq(feeds.householdId, row.householdId))
  noteBeside(() => db.update(feeds).set({ lastUsedAt: clock.now().toISOString() }).where(mine).run())
  return { actor: { householdId: row.householdId, personId: row.recordedBy, name: '' }, vehicleId: row.vehicleId }
}

function hashOf(token: string): string {
  return createHash('sha256').update(token).digest('hex')
}
