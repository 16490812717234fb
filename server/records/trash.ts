/** What was withdrawn or thrown away, over all vehicles, and can be brought back. Parts are never deleted, so none are here. */
import { and, desc, eq, isNotNull } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor, Result } from './contract.ts'
import type { Db } from './database.ts'
import { journalOf } from './entry-rows.ts'
import { done, refusal, refused } from './refusals.ts'
import { people, photos, vehicles } from './schema.ts'
import { stateOn } from './state.ts'

/** A photo's bytes are kept so long after it was thrown away; entries are kept for good. */
export const photosKept_days = 30

export type TrashedEntry = {
  readonly id: string
  readonly vehicleId: string
  readonly vehicleName: string
  readonly effectiveOn: string
  readonly title: string
  readonly withdrawnAt: string
  readonly withdrawnBy: string
}
export type TrashedPhoto = {
  readonly id: string
  readonly words: string
  readonly vehicleName: string | null
  readonly trashedAt: string
  readonly addedBy: string
  /** whole days until its bytes may be gone; 0: at any time */
  readonly left_days: number
}

/** Latest thrown away first. */
export function trashOf(
  db: Db,
  clock: Clock,
  actor: Actor,
): { readonly entries: readonly TrashedEntry[]; readonly photos: readonly TrashedPhoto[] } {
  const mine = db.select({ id: vehicles.id }).from(vehicles).where(eq(vehicles.householdId, actor.householdId)).all()
  const names = new Map(mine.map(({ id }) => [id, stateOn(db, actor, id).vehicle.name]))
  return {
    entries: mine
      .flatMap(({ id }) => withdrawnOf(db, actor, { id, name: names.get(id) ?? '' }))
      .sort((a, b) => (a.withdrawnAt < b.withdrawnAt ? 1 : a.withdrawnAt > b.withdrawnAt ? -1 : a.id < b.id ? 1 : -1)),
    photos: trashedPhotos(db, clock, actor, names),
  }
}

/** Takes a photo out of the trash; one that is not in it stays where it is. */
export function restorePhoto(db: Db, actor: Actor, photoId: string): Result<{ id: string }> {
  const here = and(eq(photos.id, photoId), eq(photos.householdId, actor.householdId))
  if (!db.select({ id: photos.id }).from(photos).where(here).get()) return refused([refusal('not-found', 'There is no such photo here.')])
  db.update(photos).set({ trashedAt: null }).where(here).run()
  return done({ id: photoId })
}

function withdrawnOf(db: Db, actor: Actor, vehicle: { readonly id: string; readonly name: string }): readonly TrashedEntry[] {
  const { rows, byId } = journalOf(db, actor, vehicle.id)
  return rows.flatMap((row) => {
    const by = row.withdrawnBy === null || row.correction === 'withdrawn' || row.replacedBy !== null ? undefined : byId.get(row.withdrawnBy)
    if (!by) return []
    const { id, effectiveOn, title } = row
    return [
      { id, vehicleId: vehicle.id, vehicleName: vehicle.name, effectiveOn, title, withdrawnAt: by.recordedAt, withdrawnBy: by.author },
    ]
  })
}

function trashedPhotos(db: Db, clock: Clock, actor: Actor, names: ReadonlyMap<string, string>): readonly TrashedPhoto[] {
  return db
    .select({ photo: photos, author: people.name })
    .from(photos)
    .innerJoin(people, eq(people.id, photos.recordedBy))
    .where(and(eq(photos.householdId, actor.householdId), isNotNull(photos.trashedAt)))
    .orderBy(desc(photos.trashedAt), desc(photos.id))
    .all()
    .map(({ photo, author }) => {
      const trashedAt = photo.trashedAt ?? ''
      const gone_days = (clock.now().getTime() - Date.parse(trashedAt)) / 86_400_000
      return {
        id: photo.id,
        words: photo.caption || photo.fileName,
        vehicleName: photo.vehicleId === null ? null : (names.get(photo.vehicleId) ?? null),
        trashedAt,
        addedBy: author,
        left_days: Math.min(photosKept_days, Math.max(0, Math.ceil(photosKept_days - gone_days))),
      }
    })
}
