/** Tokens for programs: each reads, or reads and writes, in the name of the person who made it. Only a hash is kept. */
import { and, asc, eq } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor, Refusal, Result } from './contract.ts'
import { noteBeside } from './damage.ts'
import type { Db } from './database.ts'
import { done, refusal, refused } from './refusals.ts'
import { apiTokens, people } from './schema.ts'
import { noteSecurity } from './security-log.ts'
import { hashToken, newToken } from './tokens.ts'

export type TokenScope = 'read' | 'write'
export type TokenFacts = {
  /** names the token in a list; opens nothing */
  readonly id: string
  readonly name: string
  readonly scope: TokenScope
  readonly person: string
  readonly state: 'open' | 'revoked' | 'expired'
  readonly expiresAt: string | null
  readonly lastUsedAt: string | null
  readonly recordedAt: string
}

const MOST_days = 3650
const TOUCH_ms = 60_000
const SHAPE = /^[\w-]{43}$/

/** The token itself is in the answer, and nowhere afterwards. `expiresOn` is the last day it is good for, in UTC; none: until it is revoked. */
export function makeToken(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: { readonly name: string; readonly scope: TokenScope; readonly expiresOn: string | null },
): Result<{ token: string }> {
  const name = given.name.trim()
  const expiresAt = given.expiresOn === null ? null : `${given.expiresOn}T23:59:59.999Z`
  const faults: Refusal[] = []
  if (name.length < 1 || name.length > 80)
    faults.push(refusal('not-valid', 'Give the token a name of 1 to 80 letters: what it is for.', { field: 'name' }))
  if (expiresAt !== null && !isAhead(clock, expiresAt))
    faults.push(refusal('not-valid', 'Give a day that is still to come, within ten years, or none.', { field: 'expiresOn' }))
  if (faults.length > 0) return refused(faults)
  const token = newToken()
  const { householdId, personId } = actor
  const recordedAt = clock.now().toISOString()
  db.insert(apiTokens)
    .values({ tokenHash: hashToken(token), householdId, personId, name, scope: given.scope, expiresAt, recordedAt })
    .run()
  noteSecurity(db, clock, { kind: 'token-made', says: `${name} (${given.scope})`, householdId, personId })
  return done({ token })
}

/** In the order made: those that were revoked too. */
export function tokensOf(db: Db, clock: Clock, actor: Actor): readonly TokenFacts[] {
  const now = clock.now().toISOString()
  return db
    .select({ token: apiTokens, person: people.name })
    .from(apiTokens)
    .innerJoin(people, and(eq(people.id, apiTokens.personId), eq(people.householdId, apiTokens.householdId)))
    .where(eq(apiTokens.householdId, actor.householdId))
    .orderBy(asc(apiTokens.recordedAt), asc(apiTokens.tokenHash))
    .all()
    .map(({ token: { tokenHash, name, scope, expiresAt, revokedAt, lastUsedAt, recordedAt }, person }) => ({
      id: listId(tokenHash),
      name,
      scope,
      person,
      state: revokedAt !== null ? 'revoked' : expiresAt !== null && expiresAt <= now ? 'expired' : 'open',
      expiresAt,
      lastUsedAt,
      recordedAt,
    }))
}

/** False where the household has no such token. Said twice it says the same. */
export function revokeToken(db: Db, clock: Clock, actor: Actor, id: string): boolean {
  const found = db
    .select()
    .from(apiTokens)
    .where(eq(apiTokens.householdId, actor.householdId))
    .all()
    .find((row) => listId(row.tokenHash) === id)
  if (!found) return false
  if (found.revokedAt !== null) return true
  const { householdId, personId } = actor
  db.update(apiTokens).set({ revokedAt: clock.now().toISOString() }).where(eq(apiTokens.tokenHash, found.tokenHash)).run()
  noteSecurity(db, clock, { kind: 'token-revoked', says: found.name, householdId, personId })
  return true
}

/** Null for one that is wrong, revoked, expired, or of somebody who may no longer come in: no telling which. */
export function actorOfToken(db: Db, clock: Clock, token: string): Actor | null {
  if (!SHAPE.test(token)) return null
  const tokenHash = hashToken(token)
  const row = db
    .select({ token: apiTokens, person: people.name, role: people.role, disabledAt: people.disabledAt })
    .from(apiTokens)
    .innerJoin(people, and(eq(people.id, apiTokens.personId), eq(people.householdId, apiTokens.householdId)))
    .where(eq(apiTokens.tokenHash, tokenHash))
    .get()
  const now = clock.now()
  if (!row || row.disabledAt !== null || row.token.revokedAt !== null) return null
  const { householdId, personId, scope, expiresAt, lastUsedAt } = row.token
  if (expiresAt !== null && expiresAt <= now.toISOString()) return null
  if (lastUsedAt === null || Math.abs(now.getTime() - Date.parse(lastUsedAt)) > TOUCH_ms)
    noteBeside(() => db.update(apiTokens).set({ lastUsedAt: now.toISOString() }).where(eq(apiTokens.tokenHash, tokenHash)).run())
  // A token reaches no further than the person it stands for, and never as far as an owner.
  const role = scope === 'write' && row.role !== 'viewer' ? 'editor' : 'viewer'
  return { householdId, personId, name: row.person, role }
}

function isAhead(clock: Clock, expiresAt: string): boolean {
  const ahead_ms = Date.parse(expiresAt) - clock.now().getTime()
  return ahead_ms > 0 && ahead_ms <= MOST_days * 86_400_000
}

/** Part of the hash: enough to tell a household's few tokens apart. */
function listId(tokenHash: string): string {
  return tokenHash.slice(0, 16)
}
