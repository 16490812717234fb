/** How much room the records take, and how much is left. */
import { readdir, stat } from 'node:fs/promises'
import { join } from 'node:path'
import type { Db } from './database.ts'
import { freeBytes } from './file-system.ts'
import { Lately } from './lately.ts'
import { photoWeight } from './photo-weight.ts'

export type Storage = {
  readonly database_bytes: number
  /** the log of writes beside it; folded into the file every hour, and when nothing is written for a minute or two */
  readonly log_bytes: number
  /** originals that records name, each counted once */
  readonly originals: number
  readonly originals_bytes: number
  readonly thumbnails: number
  readonly thumbnails_bytes: number
  readonly upgrades: number
  readonly upgrades_bytes: number
  readonly free_bytes: number
}

/** Many stats at once would leave no thread of the pool to anybody else. */
const AT_ONCE = 3
type Weight = { readonly files: number; readonly bytes: number }
type Contents = Weight & { readonly folders: readonly string[] }
const MOST_folders = 2000
/** What files lie in a folder lately weighed. They are put there whole, under a name of their own, which its time of change tells. */
const known = new Lately<Contents>(MOST_folders)
/** A folder changed so lately may change again without its time telling: some disks count in steps of two seconds. */
const SETTLES_ms = 4000

export async function storageOf(db: Db, data: string): Promise<Storage> {
  const { originals, originals_bytes } = photoWeight(db, null)
  const thumbnails = await weigh(join(data, 'thumbnails'))
  const upgrades = await weigh(join(data, 'upgrades'))
  return {
    ...(await databaseSizes(db)),
    originals,
    originals_bytes,
    thumbnails: thumbnails.files,
    thumbnails_bytes: thumbnails.bytes,
    upgrades: upgrades.files,
    upgrades_bytes: upgrades.bytes,
    free_bytes: await freeBytes(data),
  }
}

export async function databaseSizes(db: Db): Promise<{ readonly database_bytes: number; readonly log_bytes: number }> {
  const file = db.$client.name
  return { database_bytes: await sizeOf(file), log_bytes: await sizeOf(`${file}-wal`) }
}

/** Files below a folder and their bytes; none where there is no such folder. */
async function weigh(folder: string): Promise<Weight> {
  const { files, bytes, folders } = await heldIn(folder)
  const all = { files, bytes }
  for (const name of folders) {
    const { files, bytes } = await weigh(join(folder, name))
    all.files += files
    all.bytes += bytes
  }
  return all
}

/** Of the folder itself: its files weighed, its folders named. Kept until it changes, so that 100,000 files are not looked at each time. */
async function heldIn(folder: string): Promise<Contents> {
  const began_ms = Date.now()
  const found = await stat(folder, { bigint: true }).catch(() => null)
  if (!found) return { files: 0, bytes: 0, folders: [] }
  const key = `${folder} ${found.ino} ${found.mtimeNs} ${found.ctimeNs}`
  const before = known.get(key)
  if (before) return before
  const all = await readdir(folder, { withFileTypes: true }).catch(() => [])
  const sizes = await sizesOf(all.filter((one) => one.isFile()).map((one) => join(folder, one.name)))
  const held = {
    files: sizes.length,
    bytes: sizes.reduce((sum, size) => sum + size, 0),
    folders: all.filter((one) => one.isDirectory()).map((one) => one.name),
  }
  if (Math.abs(began_ms - Number(found.ctimeMs)) > SETTLES_ms) known.set(key, held, 1)
  return held
}

async function sizesOf(paths: readonly string[]): Promise<number[]> {
  const sizes: number[] = []
  for (let at = 0; at < paths.length; at += AT_ONCE) sizes.push(...(await Promise.all(paths.slice(at, at + AT_ONCE).map(sizeOf))))
  return sizes
}

/** A file that is gone, or was never there, takes no room. */
async function sizeOf(path: string): Promise<number> {
  return stat(path).then(
    (facts) => facts.size,
    () => 0,
  )
}
