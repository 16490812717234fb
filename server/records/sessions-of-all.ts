/** Who of a household is signed in, and where: for its owner to look at. */
import { and, asc, desc, eq } from 'drizzle-orm'
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import { people, sessions } from './schema.ts'

export type HouseholdSession = {
  readonly person: string
  readonly device: string
  readonly address: string
  readonly startedAt: string
  readonly lastUsedAt: string
}

/** By person, the newest first. Nothing in it opens or names a session. */
export function sessionsOfAll(db: Db, actor: Actor): readonly HouseholdSession[] {
  return db
    .select({ session: sessions, person: people.name })
    .from(sessions)
    .innerJoin(people, and(eq(people.id, sessions.personId), eq(people.householdId, sessions.householdId)))
    .where(eq(sessions.householdId, actor.householdId))
    .orderBy(asc(people.nameFolded), desc(sessions.startedAt), asc(sessions.tokenHash))
    .all()
    .map(({ person, session: { device, address, startedAt, lastUsedAt } }) => ({
      person,
      device,
      address,
      startedAt,
      lastUsedAt: lastUsedAt ?? startedAt,
    }))
}
