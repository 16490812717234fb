/** Past 200 lines: everything asked about photos and papers. Rows that say what an original shows and where it belongs. */
import { open } from 'node:fs/promises'
import { and, asc, desc, eq, inArray, isNull, lt, sql } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import type { Actor, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { newId } from './ids.ts'
import { nameOfComponent } from './life.ts'
import { type Disk, deleteOriginal, drop, holdingOriginal, keepOriginal, type Received, disk as realDisk } from './photo-files.ts'
import { isShownKind, kindOfBytes } from './photo-kinds.ts'
import { deletePictures, lookInto } from './pictures.ts'
import { done, refusal, refused } from './refusals.ts'
import { entries, households, parts, people, photoMarks, photos, vehicles } from './schema.ts'
import { standingEntry } from './standing.ts'

const HEAD_bytes = 256
/** the shortest head that tells kinds apart */
const LEAST_bytes = 12
const KEPT_ms = 30 * 86_400_000

export type StoredPhoto = {
  readonly id: string
  readonly vehicleId: string | null
  readonly entryId: string | null
  readonly partId: string | null
  readonly componentKey: string | null
  readonly sha256: string
  readonly type: string
  readonly bytes: number
  readonly width_px: number | null
  readonly height_px: number | null
  readonly fileName: string
  readonly caption: string
  /** false for papers and for pictures that nothing here can decode */
  readonly isShown: boolean
  readonly isTrashed: boolean
  readonly recordedAt: string
  readonly author: string
}
export type PhotoMark = { readonly id: string; readonly componentKey: string; readonly x: number; readonly y: number }
export type PhotoPlace = {
  readonly vehicleId?: string | undefined
  readonly entryId?: string | undefined
  readonly partId?: string | undefined
  readonly componentKey?: string | undefined
}

/** Keeps a received file and names it in a row: in that order, so that no row ever names a file that is not there. */
export async function storePhoto(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: PhotoPlace & {
    readonly data: string
    readonly received: Received
    readonly caption?: string | undefined
    readonly onceKey?: string | undefined
    readonly disk?: Disk
  },
): Promise<Result<StoredPhoto>> {
  const { data, received } = given
  const already = photoOnce(db, actor, given.onceKey)
  if (already) {
    await drop(received)
    return done(already)
  }
  try {
    const place = placeOf(db, actor, given)
    if (!place.ok) return place
    if ((given.caption ?? '').length > 500)
      return refused([refusal('not-valid', 'Keep the caption under 500 letters.', { field: 'caption' })])
    if (received.bytes < LEAST_bytes)
      return refused([
        refusal(
          'not-a-picture',
          received.bytes === 0 ? 'This file is empty.' : `This file holds ${received.bytes} bytes: no picture does.`,
          {
            field: 'photo',
          },
        ),
      ])
    const type = kindOfBytes(await headOf(received.path))
    if (type === null)
      return refused([
        refusal('kind-not-taken', 'Pictures (JPEG, PNG, WebP, AVIF, HEIC) and PDF papers are taken; this is none of them.', {
          field: 'photo',
        }),
      ])
    const sides = isShownKind(type) ? await lookInto({ data, path: received.path, sha256: received.sha256, type }) : null
    if (sides && !sides.ok) return sides
    return await holdingOriginal(received.sha256, async () => {
      await keepOriginal({ data, received, type }, given.disk ?? realDisk)
      return inTransaction(db, () => {
        const same = photoOnce(db, actor, given.onceKey) ?? sameAgain(db, actor, { place: place.value, sha256: received.sha256 })
        if (same) return done(same)
        const id = newId(clock)
        db.insert(photos)
          .values({
            id,
            householdId: actor.householdId,
            ...place.value,
            sha256: received.sha256,
            type,
            bytes: received.bytes,
            width_px: sides?.value.width_px ?? null,
            height_px: sides?.value.height_px ?? null,
            fileName: received.fileName,
            caption: given.caption?.trim() ?? '',
            onceKey: given.onceKey ?? null,
            recordedAt: clock.now().toISOString(),
            recordedBy: actor.personId,
          })
          .run()
        return done(photoOf(db, actor, id) as StoredPhoto)
      })
    })
  } finally {
    await drop(received)
  }
}

/** Attaches photos that were sent before their entry was saved. Within the transaction of the entry, which a refusal undoes. */
export function attachPhotos(
  db: Db,
  actor: Actor,
  given: { readonly photoIds: readonly string[]; readonly entryId: string },
): Result<{ attached: number }> {
  if (given.photoIds.length === 0) return done({ attached: 0 })
  const entry = db
    .select({ placeId: entries.placeId, vehicleId: entries.vehicleId })
    .from(entries)
    .where(and(eq(entries.id, given.entryId), eq(entries.householdId, actor.householdId)))
    .get()
  if (!entry) return refused([refusal('not-found', 'There is no such entry.')])
  const photoIds = [...new Set(given.photoIds)]
  for (const id of photoIds) {
    const photo = photoOf(db, actor, id)
    const isElsewhere = (photo?.entryId ?? entry.placeId) !== entry.placeId || (photo?.vehicleId ?? entry.vehicleId) !== entry.vehicleId
    if (!photo || photo.isTrashed || isElsewhere)
      return refused([refusal('not-valid', 'One of the photos is not there any more. Take it off and send it again.', { field: 'photos' })])
    db.update(photos)
      .set({ entryPlaceId: entry.placeId, vehicleId: entry.vehicleId })
      .where(and(eq(photos.id, id), eq(photos.householdId, actor.householdId)))
      .run()
  }
  return done({ attached: photoIds.length })
}

/** An entry that is withdrawn altogether leaves the day it was sent. */
const dayOfPhoto = sql<string>`coalesce((SELECT e.effective_on FROM entries e WHERE e.vehicle_id = ${photos.vehicleId}
  AND e.place_id = ${photos.entryPlaceId} AND ${sql.raw(standingEntry)}), substr(${photos.recordedAt}, 1, 10))`

/** Whatever is in the trash is left out. `entryId` is any version of an entry. */
export function photosOf(
  db: Db,
  actor: Actor,
  given: {
    readonly entryId?: string
    readonly partId?: string
    readonly vehicleId?: string
    readonly componentKey?: string
    readonly before?: string
    /** of up to this day: that of its entry, as it reads now, or the day it was sent */
    readonly until?: string
    readonly limit?: number
  },
): readonly StoredPhoto[] {
  const place =
    given.entryId === undefined
      ? undefined
      : (db
          .select({ placeId: entries.placeId })
          .from(entries)
          .where(and(eq(entries.id, given.entryId), eq(entries.householdId, actor.householdId)))
          .get()?.placeId ?? '')
  return found(
    db,
    and(
      eq(photos.householdId, actor.householdId),
      isNull(photos.trashedAt),
      place === undefined ? undefined : eq(photos.entryPlaceId, place),
      given.partId === undefined ? undefined : eq(photos.partId, given.partId),
      given.vehicleId === undefined ? undefined : eq(photos.vehicleId, given.vehicleId),
      given.componentKey === undefined ? undefined : eq(photos.componentKey, given.componentKey),
      given.before === undefined ? undefined : lt(photos.id, given.before),
      given.until === undefined ? undefined : sql`${dayOfPhoto} <= ${given.until}`,
    ),
    { isNewestFirst: given.vehicleId !== undefined, limit: given.limit ?? 200 },
  )
}

/** Of a vehicle, the latest first; not what is in the trash. */
export function photoIdsOf(db: Db, actor: Actor, vehicleId: string): readonly string[] {
  const sql = 'SELECT id FROM photos WHERE household_id = ? AND vehicle_id = ? AND trashed_at IS NULL ORDER BY id DESC'
  return db.$client.prepare(sql).pluck().all(actor.householdId, vehicleId) as string[]
}

/** Also one that is in the trash: its page offers to bring it back. */
export function photoOf(db: Db, actor: Actor, id: string): StoredPhoto | null {
  return found(db, and(eq(photos.id, id), eq(photos.householdId, actor.householdId)), { isNewestFirst: false, limit: 1 })[0] ?? null
}

/** What it shows, in words and by component. `was` is the caption that the form was opened on: a newer one is not overwritten. */
export function describePhoto(
  db: Db,
  actor: Actor,
  id: string,
  given: { readonly caption: string; readonly componentKey: string | null; readonly was?: string | undefined },
): Result<StoredPhoto> {
  return inTransaction(db, () => {
    const photo = photoOf(db, actor, id)
    if (!photo) return refused([noPhoto()])
    if (given.was !== undefined && given.was !== photo.caption && given.caption !== photo.caption)
      return refused([
        refusal(
          'changed-meanwhile',
          `Somebody changed the caption meanwhile: it reads “${photo.caption}” now. Yours is still in the form.`,
          {
            field: 'caption',
          },
        ),
      ])
    if (given.caption.length > 500) return refused([refusal('not-valid', 'Keep the caption under 500 letters.', { field: 'caption' })])
    if (
      given.componentKey !== null &&
      given.componentKey !== photo.componentKey &&
      !isThereEver(db, actor, photo.vehicleId, given.componentKey)
    )
      return refused([noComponent()])
    db.update(photos)
      .set({ caption: given.caption.trim(), componentKey: given.componentKey })
      .where(and(eq(photos.id, id), eq(photos.householdId, actor.householdId)))
      .run()
    return done(photoOf(db, actor, id) as StoredPhoto)
  })
}

export function trashPhoto(db: Db, clock: Clock, actor: Actor, id: string): Result<StoredPhoto> {
  return setTrashed(db, actor, id, clock.now().toISOString())
}

export function untrashPhoto(db: Db, actor: Actor, id: string): Result<StoredPhoto> {
  return setTrashed(db, actor, id, null)
}

/** Positions on a photo, in the order they were set. */
export function marksOf(db: Db, actor: Actor, photoId: string): readonly PhotoMark[] {
  return db
    .select({ id: photoMarks.id, componentKey: photoMarks.componentKey, x: photoMarks.x, y: photoMarks.y })
    .from(photoMarks)
    .where(and(eq(photoMarks.photoId, photoId), eq(photoMarks.householdId, actor.householdId)))
    .orderBy(asc(photoMarks.id))
    .all()
}

export function markPhoto(db: Db, clock: Clock, actor: Actor, photoId: string, mark: Omit<PhotoMark, 'id'>): Result<PhotoMark> {
  const { componentKey, x, y } = mark
  const photo = photoOf(db, actor, photoId)
  if (!photo) return refused([noPhoto()])
  if (!isThereEver(db, actor, photo.vehicleId, componentKey)) return refused([noComponent()])
  if (!(x >= 0 && x <= 1 && y >= 0 && y <= 1))
    return refused([refusal('not-valid', 'A place on the picture lies between 0 and 100 % of its sides.', { field: 'x' })])
  const id = newId(clock)
  db.insert(photoMarks)
    .values({
      id,
      householdId: actor.householdId,
      photoId,
      componentKey,
      x,
      y,
      recordedAt: clock.now().toISOString(),
      recordedBy: actor.personId,
    })
    .run()
  return done({ id, componentKey, x, y })
}

export function unmarkPhoto(db: Db, actor: Actor, photoId: string, markId: string): boolean {
  const mine = and(eq(photoMarks.id, markId), eq(photoMarks.photoId, photoId), eq(photoMarks.householdId, actor.householdId))
  return db.delete(photoMarks).where(mine).run().changes === 1
}

/**
 * Photos thirty days in the trash go for good, once a good backup later than that day holds them; an original goes with the last row that
 * names it. Answers how many rows went.
 */
export async function purgeTrash(
  db: Db,
  clock: Clock,
  given: { readonly data: string; readonly lastBackupAt: string | null },
): Promise<number> {
  if (given.lastBackupAt === null) return 0
  const oldest = new Date(clock.now().getTime() - KEPT_ms).toISOString()
  const [before] = [oldest, given.lastBackupAt].sort() as [string, string]
  const gone = trashedBefore(db, before).all()
  for (const row of gone) {
    db.$client.transaction(() => {
      db.delete(photoMarks).where(eq(photoMarks.photoId, row.id)).run()
      db.delete(photos)
        .where(and(eq(photos.id, row.id), eq(photos.householdId, row.householdId)))
        .run()
    })()
    const others = db.select({ id: photos.id }).from(photos).where(eq(photos.sha256, row.sha256)).limit(1).get()
    // Of any household: one file serves all who sent the same.
    if (others) continue
    deleteOriginal({ data: given.data, sha256: row.sha256, type: row.type })
    deletePictures({ data: given.data, sha256: row.sha256 })
  }
  return gone.length
}

/** Household by household, as the index of what is in the trash has it: the rest of the photos, which is nearly all, is not read. */
export function trashedBefore(db: Db, instant: string) {
  return db
    .select({ id: photos.id, householdId: photos.householdId, sha256: photos.sha256, type: photos.type })
    .from(photos)
    .where(and(inArray(photos.householdId, db.select({ id: households.id }).from(households)), lt(photos.trashedAt, instant)))
}

type Place = {
  readonly vehicleId: string | null
  readonly entryPlaceId: string | null
  readonly partId: string | null
  readonly componentKey: string | null
}

function placeOf(db: Db, actor: Actor, given: PhotoPlace): Result<Place> {
  const entry =
    given.entryId === undefined
      ? undefined
      : db
          .select({ placeId: entries.placeId, vehicleId: entries.vehicleId })
          .from(entries)
          .where(and(eq(entries.id, given.entryId), eq(entries.householdId, actor.householdId)))
          .get()
  if (given.entryId !== undefined && !entry) return refused([refusal('not-found', 'There is no such entry.')])
  if (given.vehicleId !== undefined && !isOurs(db, vehicles, actor, given.vehicleId))
    return refused([refusal('not-found', 'There is no such vehicle.')])
  if (given.partId !== undefined && !isOurs(db, parts, actor, given.partId))
    return refused([refusal('not-found', 'There is no such part.')])
  const vehicleId = entry?.vehicleId ?? given.vehicleId ?? null
  if (given.componentKey && !isThereEver(db, actor, vehicleId, given.componentKey)) return refused([noComponent()])
  return done({
    vehicleId,
    entryPlaceId: entry?.placeId ?? null,
    partId: given.partId ?? null,
    componentKey: given.componentKey || null,
  })
}

function isOurs(db: Db, table: typeof vehicles | typeof parts, actor: Actor, id: string): boolean {
  const row = db
    .select({ id: table.id })
    .from(table)
    .where(and(eq(table.id, id), eq(table.householdId, actor.householdId)))
    .get()
  return row !== undefined
}

function photoOnce(db: Db, actor: Actor, onceKey: string | undefined): StoredPhoto | null {
  if (onceKey === undefined) return null
  const mine = and(eq(photos.onceKey, onceKey), eq(photos.householdId, actor.householdId))
  return found(db, mine, { isNewestFirst: false, limit: 1 })[0] ?? null
}

/** The same picture sent twice to one place is one photo. */
function sameAgain(db: Db, actor: Actor, given: { readonly place: Place; readonly sha256: string }): StoredPhoto | null {
  const { place, sha256 } = given
  const same = and(
    eq(photos.householdId, actor.householdId),
    eq(photos.sha256, sha256),
    isNull(photos.trashedAt),
    sql`${photos.vehicleId} IS ${place.vehicleId} AND ${photos.entryPlaceId} IS ${place.entryPlaceId} AND ${photos.partId} IS ${place.partId}`,
  )
  return found(db, same, { isNewestFirst: false, limit: 1 })[0] ?? null
}

function setTrashed(db: Db, actor: Actor, id: string, trashedAt: string | null): Result<StoredPhoto> {
  const mine = and(eq(photos.id, id), eq(photos.householdId, actor.householdId))
  if (db.update(photos).set({ trashedAt }).where(mine).run().changes === 0) return refused([noPhoto()])
  return done(photoOf(db, actor, id) as StoredPhoto)
}

function found(
  db: Db,
  where: ReturnType<typeof and>,
  given: { readonly isNewestFirst: boolean; readonly limit: number },
): readonly StoredPhoto[] {
  return db
    .select({ photo: photos, author: people.name })
    .from(photos)
    .innerJoin(people, eq(people.id, photos.recordedBy))
    .where(where)
    .orderBy(given.isNewestFirst ? desc(photos.id) : asc(photos.id))
    .limit(given.limit)
    .all()
    .map(({ photo, author }) => {
      const { householdId: _household, recordedBy: _person, onceKey: _once, entryPlaceId, trashedAt, ...rest } = photo
      return { ...rest, entryId: entryPlaceId, isShown: isShownKind(photo.type), isTrashed: trashedAt !== null, author }
    })
}

async function headOf(path: string): Promise<Buffer> {
  const handle = await open(path, 'r')
  try {
    const { buffer, bytesRead } = await handle.read(Buffer.alloc(HEAD_bytes), 0, HEAD_bytes, 0)
    return buffer.subarray(0, bytesRead)
  } finally {
    await handle.close()
  }
}

/** A photo may show what has been taken out since. */
function isThereEver(db: Db, actor: Actor, vehicleId: string | null, componentKey: string): boolean {
  return vehicleId !== null && nameOfComponent(db, actor, vehicleId, componentKey) !== null
}

function noComponent() {
  return refusal('not-valid', 'This vehicle has no such component.', { field: 'component' })
}

function noPhoto() {
  return refusal('not-found', 'There is no such photo.')
}
