/** How much room the records take, and how much is left. */
import { readdir, stat } from 'node:fs/promises'
import { join } from 'node:path'
import type { Db } from './database.ts'
import { freeBytes } from './file-system.ts'

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

export async function storageOf(db: Db, data: string): Promise<Storage> {
  const [originals, originals_bytes] = db.$client
    .prepare('SELECT count(*), coalesce(sum(bytes), 0) FROM (SELECT DISTINCT sha256, bytes FROM photos)')
    .raw()
    .get() as [number, number]
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
async function weigh(folder: string): Promise<{ readonly files: number; readonly bytes: number }> {
  const all = await readdir(folder, { recursive: true, withFileTypes: true }).catch(() => [])
  const paths = all.filter((one) => one.isFile()).map((one) => join(one.parentPath, one.name))
  let bytes = 0
  for (let at = 0; at < paths.length; at += AT_ONCE)
    for (const size of await Promise.all(paths.slice(at, at + AT_ONCE).map(sizeOf))) bytes += size
  return { files: paths.length, bytes }
}

/** A file that is gone, or was never there, takes no room. */
async function sizeOf(path: string): Promise<number> {
  return stat(path).then(
    (facts) => facts.size,
    () => 0,
  )
}
