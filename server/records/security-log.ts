/** What concerns security, kept for the owner to read: who signed in, who was refused, what was allowed or taken back. Never a secret. */
import { and, desc, eq, isNull, lt, lte, or } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import { newId } from './ids.ts'
import { securityEvents } from './schema.ts'
import { SecurityBounds } from './security-bounds.ts'

export type SecurityEvent = {
  readonly id: string
  readonly kind: SecurityKind
  readonly says: string
  readonly address: string
  readonly recordedAt: string
}

export type SecurityKind =
  | 'signed-in'
  | 'sign-in-refused'
  | 'sign-in-held-back'
  | 'signed-out'
  | 'password-refused'
  | 'password-changed'
  | 'second-factor-set'
  | 'second-factor-removed'
  | 'recovery-code-used'
  | 'passkey-added'
  | 'passkey-removed'
  | 'email-set'
  | 'identity-connected'
  | 'identity-removed'
  | 'password-link-made'
  | 'invited'
  | 'invitation-revoked'
  | 'joined'
  | 'role-changed'
  | 'disabled'
  | 'enabled'
  | 'sessions-ended'
  | 'token-made'
  | 'token-revoked'
  | 'token-refused'
  | 'feed-made'
  | 'feed-revoked'
  | 'build-page-made'
  | 'build-page-revoked'
  | 'webhook-added'
  | 'webhook-revoked'
  | 'write-refused'
  | 'forward-auth-ignored'

const keepsFor_days = 365
/** Of those that nobody here did, who were refused at the door. */
const MOST_of_nobody = 20_000
const bounds = new WeakMap<Db, SecurityBounds>()

export function noteSecurity(
  db: Db,
  clock: Clock,
  event: {
    readonly kind: SecurityKind
    readonly says: string
    readonly address?: string
    readonly householdId?: string | null
    readonly personId?: string | null
  },
): void {
  const householdId = event.householdId ?? null
  const mayKeep = householdId === null ? boundsOf(db).count(event.address ?? '', clock.now().getTime()) : 'yes'
  if (mayKeep === 'no') return
  db.insert(securityEvents)
    .values({
      id: newId(clock),
      householdId,
      personId: event.personId ?? null,
      kind: event.kind,
      says: `${printable(event.says).slice(0, 300)}${mayKeep === 'last' ? '. More from there is not kept for a quarter of an hour.' : ''}`,
      address: printable(event.address ?? '').slice(0, 64),
      recordedAt: clock.now().toISOString(),
    })
    .run()
}

/** Newest first: the household's own, and those of nobody (a name that no account has). */
export function securityEventsOf(
  db: Db,
  actor: Actor,
  given: { readonly limit: number; readonly before?: string },
): readonly SecurityEvent[] {
  const mine = or(eq(securityEvents.householdId, actor.householdId), isNull(securityEvents.householdId))
  return db
    .select()
    .from(securityEvents)
    .where(given.before === undefined ? mine : and(mine, lt(securityEvents.id, given.before)))
    .orderBy(desc(securityEvents.id))
    .limit(given.limit)
    .all()
    .map(({ id, kind, says, address, recordedAt }) => ({ id, kind: kind as SecurityKind, says, address, recordedAt }))
}

/** What is older than a year goes, and of what nobody here did all but the newest. */
export function forgetOldSecurityEvents(db: Db, clock: Clock): number {
  const oldest = new Date(clock.now().getTime() - keepsFor_days * 86_400_000).toISOString()
  const gone = db.delete(securityEvents).where(lt(securityEvents.recordedAt, oldest)).run().changes
  const ofNobody = isNull(securityEvents.householdId)
  const tooOld = db
    .select({ id: securityEvents.id })
    .from(securityEvents)
    .where(ofNobody)
    .orderBy(desc(securityEvents.id))
    .limit(1)
    .offset(MOST_of_nobody)
    .get()
  if (tooOld === undefined) return gone
  return (
    gone +
    db
      .delete(securityEvents)
      .where(and(ofNobody, lte(securityEvents.id, tooOld.id)))
      .run().changes
  )
}

function boundsOf(db: Db): SecurityBounds {
  const known = bounds.get(db) ?? new SecurityBounds()
  bounds.set(db, known)
  return known
}

/** One line, whatever was sent. */
function printable(text: string): string {
  return text.replace(/[\p{Cc}\p{Cf}\u2028\u2029]/gu, ' ')
}
