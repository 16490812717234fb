/** Going back to a backup: verified, the present kept first, and the files swapped at the next start, before anything is open. */
import { dirname, join } from 'node:path'
import { z } from 'zod'
import {
  BEFORE_RESTORE,
  type Backup,
  BackupFault,
  type BackupGiven,
  listBackups,
  makeBackup,
  photoFault,
  photosNamed,
  verifyBackup,
} from './backup.ts'
import { headOf, type PhotoFile, photosReadable } from './backup-contents.ts'
import type { Db } from './database.ts'
import { checkDatabaseFile } from './database-file.ts'
import { type Files, realFiles } from './files.ts'
import { photoName } from './photo-path.ts'

export const pendingName = 'restore-pending.json'
const pendingShape = z.object({ from: z.string(), sha256: z.string(), asked_at: z.string() })

export type Restore = { readonly ok: true; readonly safety: string | null } | { readonly ok: false; readonly faults: readonly string[] }

/** Prepares the swap; the open database is not touched. `present` is null where there is nothing yet to keep. */
export async function restoreBackup(given: {
  /** the backup */
  readonly from: string
  readonly data: string
  readonly askedAt: string
  readonly present: Omit<BackupGiven, 'label'> | null
  readonly files?: Files
}): Promise<Restore> {
  const { from, data, askedAt, files = realFiles } = given
  const faults = await verifyBackup(from, files)
  const head = await headOf(from, files)
  if (faults.length > 0 || !head) return { ok: false, faults }
  const safety = given.present ? await keepPresent(given.present) : null
  await files.remove(join(data, pendingName))
  await files.remove(stagedIn(data))
  await files.copy(join(from, 'loombook.sqlite'), stagedIn(data))
  if ((await files.sha256(stagedIn(data))) !== head.database.sha256)
    return { ok: false, faults: ['The copy of it did not come out right.'] }
  await files.sync(stagedIn(data))
  const pending = { from, sha256: head.database.sha256, asked_at: askedAt }
  await files.write(join(data, `${pendingName}.new`), JSON.stringify(pending))
  await files.rename(join(data, `${pendingName}.new`), join(data, pendingName))
  await files.sync(data)
  return { ok: true, safety: safety?.folder ?? null }
}

export async function isRestorePending(data: string, files: Files = realFiles): Promise<boolean> {
  return (await files.bytes(join(data, pendingName))) !== null
}

/**
 * At start, before the database is opened. Each step may be the last before the power goes: the next start goes on from there.
 * The database that was there, with its -wal and -shm, is put aside, never deleted. Answers what it did.
 */
export async function finishRestore(data: string, files: Files = realFiles): Promise<string | null> {
  if (!(await isRestorePending(data, files))) return null
  const { from, sha256, asked_at } = pendingShape.parse(JSON.parse((await files.read(join(data, pendingName))).toString('utf8')))
  const staged = stagedIn(data)
  if ((await files.bytes(staged)) !== null) {
    if ((await files.sha256(staged)) !== sha256)
      throw new Error(`The restored database in ${staged} is not as it was written; nothing was swapped.`)
    await bringPhotos(from, data, files)
    const aside = join(data, `replaced-${asked_at.replace(/[:.]/g, '-')}`)
    await files.mkdir(aside)
    for (const end of ['', '-wal', '-shm']) {
      const path = join(data, `loombook.sqlite${end}`)
      if ((await files.bytes(path)) !== null) await files.rename(path, join(aside, `loombook.sqlite${end}`))
    }
    await files.sync(aside)
    await files.sync(data)
    await files.rename(staged, join(data, 'loombook.sqlite'))
    await files.sync(data)
  }
  await files.remove(join(data, pendingName))
  await files.sync(data)
  return `The backup ${from} is in place.`
}

/** Brings the photos that are not there or not right; none is taken away. */
export async function bringPhotos(from: string, data: string, files: Files = realFiles): Promise<number> {
  let brought = 0
  for await (const photo of photosReadable(from, files))
    if ((await photoFault(data, photo, files)) !== null && (await restorePhoto({ from, data, photo, files }))) brought += 1
  return brought
}

/** One photo back from a backup; false where that backup has it not, or not whole. What lay in its place is written over. */
export async function restorePhoto(given: {
  readonly from: string
  readonly data: string
  readonly photo: PhotoFile
  readonly files?: Files
}): Promise<boolean> {
  const { from, data, photo, files = realFiles } = given
  if ((await photoFault(from, photo, files)) !== null) return false
  const to = join(data, ...photo.name.split('/'))
  const temp = `${to}.coming`
  await files.mkdir(dirname(to))
  await files.remove(temp)
  await files.copy(join(from, ...photo.name.split('/')), temp)
  await files.sync(temp)
  await files.rename(temp, to)
  await files.sync(dirname(to))
  return true
}

/** Every photo that a record names and that is gone or altered, from the newest backup that has it whole. */
export async function bringPhotosBack(given: {
  readonly db: Db
  readonly data: string
  readonly backups: string
  readonly files?: Files
}): Promise<{ readonly brought: number; readonly lost: readonly string[] }> {
  const { data, files = realFiles } = given
  const backups = await listBackups(given.backups, files)
  let brought = 0
  const lost: string[] = []
  for (const { sha256, type, bytes } of photosNamed(given.db.$client)) {
    const photo = { name: photoName({ sha256, type }), sha256, bytes }
    if ((await photoFault(data, photo, files)) === null) continue
    let isBack = false
    for (const { folder } of backups) if (!isBack) isBack = await restorePhoto({ from: folder, data, photo, files })
    if (isBack) brought += 1
    else lost.push(photo.name)
  }
  return { brought, lost }
}

export type Trial = { readonly faults: readonly string[]; readonly rows: Readonly<Record<string, number>>; readonly photos: number }

/** Restores into an empty folder and reads everything back; the folder is removed afterwards. */
export async function tryBackup(from: string, folder: string, files: Files = realFiles): Promise<Trial> {
  const faults = await verifyBackup(from, files)
  const head = await headOf(from, files)
  if (faults.length > 0 || !head) return { faults, rows: {}, photos: 0 }
  await files.remove(folder)
  try {
    await files.mkdir(folder)
    await files.copy(join(from, 'loombook.sqlite'), join(folder, 'loombook.sqlite'))
    const photos = await bringPhotos(from, folder, files)
    const check = checkDatabaseFile(join(folder, 'loombook.sqlite'))
    const lost = head.totals.photos - photos
    return { faults: [...check.faults, ...(lost > 0 ? [`${lost} photos did not come back.`] : [])], rows: check.rows, photos }
  } finally {
    await files.remove(folder)
  }
}

/** A damaged present cannot be backed up, and that is when going back is needed most: its files are put aside whole at the swap. */
async function keepPresent(present: Omit<BackupGiven, 'label'>): Promise<Backup | null> {
  try {
    return await makeBackup({ ...present, label: BEFORE_RESTORE })
  } catch (fault) {
    if (fault instanceof BackupFault || String((fault as { code?: string }).code).startsWith('SQLITE_')) return null
    throw fault
  }
}

function stagedIn(data: string): string {
  return join(data, 'restored.sqlite')
}
