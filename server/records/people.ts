/** People, their passwords (scrypt) and their sessions (only a hash of each token is kept). */
import { createHash, randomBytes, scrypt, scryptSync, timingSafeEqual } from 'node:crypto'
import { and, eq } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor, Refusal, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { newId } from './ids.ts'
import { done, refusal, refused } from './refusals.ts'
import { households, people, sessions } from './schema.ts'

const cost = { N: 32768, r: 8, p: 1, maxmem: 96 * 1024 * 1024 } as const
const sessionLasts_days = 90
/** a clock put right by less than this ends no session */
const clockSlack_ms = 86_400_000

export function isFirstRun(db: Db): boolean {
  return db.select({ id: people.id }).from(people).limit(1).get() === undefined
}

/** The first account of an installation; refused once there is one. */
export function createOwner(db: Db, clock: Clock, given: { readonly name: string; readonly password: string }): Result<Actor> {
  const faults = faultsOf(given)
  if (faults.length > 0) return refused(faults)
  const passwordHash = hashPassword(given.password)
  return inTransaction(db, () => {
    if (!isFirstRun(db)) return refused([refusal('already-set-up', 'This Loombook already has an owner. Sign in instead.')])
    const recordedAt = clock.now().toISOString()
    const name = given.name.trim()
    const actor: Actor = { householdId: newId(clock), personId: newId(clock), name }
    db.insert(households).values({ id: actor.householdId, recordedAt }).run()
    db.insert(people)
      .values({ id: actor.personId, householdId: actor.householdId, name, nameFolded: folded(name), passwordHash, recordedAt })
      .run()
    return done(actor)
  })
}

export async function signIn(
  db: Db,
  clock: Clock,
  given: { readonly name: string; readonly password: string },
): Promise<Result<{ token: string; actor: Actor }>> {
  const person = db
    .select()
    .from(people)
    .where(eq(people.nameFolded, folded(given.name)))
    .get()
  const right = await passwordMatches(given.password, person?.passwordHash ?? unmatchable)
  if (!person || !right) return refused([refusal('wrong-name-or-password', 'That name and password do not go together.')])
  const token = randomBytes(32).toString('base64url')
  const now = clock.now()
  db.insert(sessions)
    .values({
      tokenHash: hashToken(token),
      householdId: person.householdId,
      personId: person.id,
      formSecret: randomBytes(32).toString('base64url'),
      startedAt: now.toISOString(),
      expiresAt: new Date(now.getTime() + sessionLasts_days * 86_400_000).toISOString(),
    })
    .run()
  return done({ token, actor: { householdId: person.householdId, personId: person.id, name: person.name } })
}

/** `formSecret` is what form tokens of this session are made from. */
export function sessionOf(db: Db, clock: Clock, token: string): { actor: Actor; formSecret: string } | null {
  const row = db
    .select({ session: sessions, name: people.name })
    .from(sessions)
    .innerJoin(people, and(eq(people.id, sessions.personId), eq(people.householdId, sessions.householdId)))
    .where(eq(sessions.tokenHash, hashToken(token)))
    .get()
  if (!row || !isWithin(row.session, clock.now())) return null
  return {
    actor: { householdId: row.session.householdId, personId: row.session.personId, name: row.name },
    formSecret: row.session.formSecret,
  }
}

/** Neither after its days nor before them: a clock that was wrong when it began, or is wrong now, makes no session last for ever. */
function isWithin(session: { readonly startedAt: string; readonly expiresAt: string }, now: Date): boolean {
  return now.getTime() < Date.parse(session.expiresAt) && Date.parse(session.startedAt) - clockSlack_ms <= now.getTime()
}

export function signOut(db: Db, token: string): void {
  db.delete(sessions)
    .where(eq(sessions.tokenHash, hashToken(token)))
    .run()
}

function faultsOf(given: { readonly name: string; readonly password: string }): readonly Refusal[] {
  const faults: Refusal[] = []
  const name = given.name.trim()
  if (name.length < 1 || name.length > 80) faults.push(refusal('not-valid', 'Give a name of 1 to 80 letters.', { field: 'name' }))
  if (given.password.length < 8) faults.push(refusal('not-valid', 'Choose a password of at least 8 characters.', { field: 'password' }))
  if (given.password.length > 1000)
    faults.push(refusal('not-valid', 'Choose a password of at most 1000 characters.', { field: 'password' }))
  return faults
}

function folded(name: string): string {
  return name.trim().normalize('NFKC').toLowerCase()
}

function hashToken(token: string): string {
  return createHash('sha256').update(token).digest('hex')
}

function hashPassword(password: string): string {
  const salt = randomBytes(16)
  const hash = scryptSync(password.normalize('NFKC'), salt, 32, cost)
  return ['scrypt', cost.N, cost.r, cost.p, salt.toString('base64url'), hash.toString('base64url')].join('$')
}

/** Compared when nobody has that name, so that the answer takes as long. */
const unmatchable = ['scrypt', cost.N, cost.r, cost.p, randomBytes(16).toString('base64url'), randomBytes(32).toString('base64url')].join(
  '$',
)

function passwordMatches(password: string, stored: string): Promise<boolean> {
  const [, N, r, p, salt, hash] = stored.split('$')
  if (!salt || !hash) return Promise.resolve(false)
  const wanted = Buffer.from(hash, 'base64url')
  return new Promise((resolve, reject) => {
    const options = { N: Number(N), r: Number(r), p: Number(p), maxmem: cost.maxmem }
    scrypt(password.slice(0, 1000).normalize('NFKC'), Buffer.from(salt, 'base64url'), wanted.length, options, (fault, found) => {
      if (fault) reject(fault)
      else resolve(timingSafeEqual(found, wanted))
    })
  })
}
