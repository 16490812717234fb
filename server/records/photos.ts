/** Photos that were sent ahead of their entry. */
import { and, eq, inArray, isNull } from 'drizzle-orm'
import type { Actor, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { done, refusal, refused } from './refusals.ts'
import { entries, photos } from './schema.ts'

/** Puts photos that belong to no entry yet to this one: all of them, or none. */
export function attachPhotos(
  db: Db,
  actor: Actor,
  given: { readonly photoIds: readonly string[]; readonly entryId: string },
): Result<{ attached: number }> {
  const photoIds = [...new Set(given.photoIds)]
  return inTransaction(db, () => {
    const entry = db
      .select({ placeId: entries.placeId, vehicleId: entries.vehicleId })
      .from(entries)
      .where(and(eq(entries.id, given.entryId), eq(entries.householdId, actor.householdId)))
      .get()
    if (!entry) return refused([refusal('not-found', 'There is no such entry.')])
    const free = and(
      inArray(photos.id, photoIds),
      eq(photos.householdId, actor.householdId),
      eq(photos.vehicleId, entry.vehicleId),
      isNull(photos.entryPlaceId),
      isNull(photos.trashedAt),
    )
    const { changes } = db.update(photos).set({ entryPlaceId: entry.placeId }).where(free).run()
    if (changes === photoIds.length) return done({ attached: changes })
    return refused([refusal('not-valid', 'One of the photos is not there, or belongs to another entry.', { field: 'photos' })])
  })
}
