/** What was withdrawn or thrown away, over all vehicles, and can be brought back. Parts are never deleted, so none are here. */
import { and, eq } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor, Result } from './contract.ts'
import type { Db } from './database.ts'
import { done, refusal, refused } from './refusals.ts'
import { people, photos } from './schema.ts'
import { vehicleNames } from './vehicles.ts'

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

/** Which of so many are shown. */
type Range = (count: number) => { readonly from: number; readonly most: number }
export type Trash = {
  readonly entryCount: number
  readonly entries: readonly TrashedEntry[]
  readonly photoCount: number
  readonly photos: readonly TrashedPhoto[]
}

/** Latest thrown away first. Of the many there may be, the details are read of those alone that are shown. */
export function trashOf(db: Db, clock: Clock, actor: Actor, range: { readonly entries: Range; readonly photos: Range }): Trash {
  const [withdrawn, thrown] = [withdrawnIn(db, actor), thrownIn(db, actor)]
  const names = new Map(vehicleNames(db, actor).map(({ id, name }) => [id, name]))
  return {
    entryCount: withdrawn.length,
    entries: entriesOf(db, actor, { rows: part(withdrawn, range.entries), names }),
    photoCount: thrown.length,
    photos: photosOf(db, actor, { ids: part(thrown, range.photos), names, now_ms: clock.now().getTime() }),
  }
}

/** Takes a photo out of the trash; one that is not in it stays where it is. */
export function restorePhoto(db: Db, actor: Actor, photoId: string): Result<{ id: string }> {
  const here = and(eq(photos.id, photoId), eq(photos.householdId, actor.householdId))
  if (!db.select({ id: photos.id }).from(photos).where(here).get()) return refused([refusal('not-found', 'There is no such photo here.')])
  db.update(photos).set({ trashedAt: null }).where(here).run()
  return done({ id: photoId })
}

function part<T>(rows: readonly T[], range: Range): readonly T[] {
  const { from, most } = range(rows.length)
  return rows.slice(from, from + most)
}

type Correction = {
  readonly id: string
  readonly about: string
  readonly correction: 'withdrawn' | 'replaced'
  readonly recordedAt: string
  readonly author: string
}

/** The withdrawals that stand, each of an entry that no later version took the place of: corrections alone are read, which are few. */
function withdrawnIn(db: Db, actor: Actor): readonly Correction[] {
  const sql = `SELECT e.id, e.corrects_id AS about, e.correction, e.recorded_at AS recordedAt, p.name AS author
    FROM entries e INDEXED BY entries_by_correction CROSS JOIN people p ON p.id = e.recorded_by
    WHERE e.corrects_id > '' AND e.household_id = ? ORDER BY e.rowid`
  const rows = db.$client.prepare(sql).all(actor.householdId) as Correction[]
  const withdrawals = new Set(rows.flatMap((row) => (row.correction === 'withdrawn' ? [row.id] : [])))
  const about = new Map<string, Correction[]>()
  for (const row of rows) about.set(row.about, [...(about.get(row.about) ?? []), row])
  const standing = (id: string): Correction | undefined =>
    about.get(id)?.find((row) => row.correction === 'withdrawn' && standing(row.id) === undefined)
  return [...about]
    .flatMap(([id, ones]) => (withdrawals.has(id) || ones.some((one) => one.correction === 'replaced') ? [] : (standing(id) ?? [])))
    .sort((a, b) => (a.recordedAt < b.recordedAt ? 1 : a.recordedAt > b.recordedAt ? -1 : a.about < b.about ? 1 : -1))
}

type Names = ReadonlyMap<string, string>

function entriesOf(db: Db, actor: Actor, given: { readonly rows: readonly Correction[]; readonly names: Names }): readonly TrashedEntry[] {
  const read = db.$client.prepare(
    'SELECT vehicle_id AS vehicleId, effective_on AS effectiveOn, title FROM entries WHERE id = ? AND household_id = ?',
  )
  return given.rows.flatMap(({ about, recordedAt, author }) => {
    const entry = read.get(about, actor.householdId) as Pick<TrashedEntry, 'vehicleId' | 'effectiveOn' | 'title'> | undefined
    if (!entry) return []
    return [{ id: about, ...entry, vehicleName: given.names.get(entry.vehicleId) ?? '', withdrawnAt: recordedAt, withdrawnBy: author }]
  })
}

function thrownIn(db: Db, actor: Actor): readonly string[] {
  const sql = 'SELECT id FROM photos WHERE household_id = ? AND trashed_at IS NOT NULL ORDER BY trashed_at DESC, id DESC'
  return db.$client.prepare(sql).pluck().all(actor.householdId) as string[]
}

function photosOf(
  db: Db,
  actor: Actor,
  given: { readonly ids: readonly string[]; readonly names: Names; readonly now_ms: number },
): readonly TrashedPhoto[] {
  return given.ids.flatMap((id) => {
    const found = db
      .select({ photo: photos, author: people.name })
      .from(photos)
      .innerJoin(people, eq(people.id, photos.recordedBy))
      .where(and(eq(photos.id, id), eq(photos.householdId, actor.householdId)))
      .get()
    if (!found) return []
    const { photo, author } = found
    const trashedAt = photo.trashedAt ?? ''
    const gone_days = (given.now_ms - Date.parse(trashedAt)) / 86_400_000
    return [
      {
        id,
        words: photo.caption || photo.fileName,
        vehicleName: photo.vehicleId === null ? null : (given.names.get(photo.vehicleId) ?? null),
        trashedAt,
        addedBy: author,
        left_days: Math.min(photosKept_days, Math.max(0, Math.ceil(photosKept_days - gone_days))),
      },
    ]
  })
}
