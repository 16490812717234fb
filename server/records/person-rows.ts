/** The row of a person, changed here alone once it is there: what is not as it was written is never vouched for anew. */
import { and, eq } from 'drizzle-orm'
import { changeKept } from './changing-digests.ts'
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import { people } from './schema.ts'

/** In a transaction. Throws `AlteredRow`, and nothing is changed, where the row is not as it was written. */
export function changePerson(
  db: Db,
  who: Pick<Actor, 'personId' | 'householdId'>,
  set: Partial<Omit<typeof people.$inferInsert, 'id' | 'householdId'>>,
): void {
  changeKept(db, {
    table: 'people',
    id: who.personId,
    write: () =>
      db
        .update(people)
        .set(set)
        .where(and(eq(people.id, who.personId), eq(people.householdId, who.householdId)))
        .run(),
  })
}
