/**
 * Originals on the disk. A file is whole and synced under its own hash before any row names it, so that a crash leaves at most a file that
 * no row names: received into tmp/ while hashed and counted, looked into, synced, linked to its place, the folders synced.
 */
import { createHash, randomBytes } from 'node:crypto'
import { close, createWriteStream, fsync, open } from 'node:fs'
import { link, mkdir, open as openFile, readdir, rm, stat, unlink } from 'node:fs/promises'
import { dirname, join } from 'node:path'
import type { Readable } from 'node:stream'
import { pipeline } from 'node:stream/promises'
import { promisify } from 'node:util'
import type { Result } from './contract.ts'
import { photoPath } from './photo-path.ts'
import { done, refusal, refused } from './refusals.ts'

export const MOST_bytes = 50 * 1024 * 1024
const STALE_ms = 3_600_000

export type Received = {
  /** in tmp/, until it is kept or dropped */
  readonly path: string
  readonly sha256: string
  readonly bytes: number
  readonly fileName: string
}

/** What writing an original asks of the disk: one place, so that each step can be made to fail. */
export type Disk = {
  syncFile(path: string): Promise<void>
  makeFolder(path: string): Promise<void>
  link(from: string, to: string): Promise<void>
  syncFolder(path: string): Promise<void>
  remove(path: string): Promise<void>
}

export const disk: Disk = {
  syncFile: async (path) => {
    const handle = await openFile(path, 'r+')
    try {
      await handle.sync()
    } finally {
      await handle.close()
    }
  },
  makeFolder: async (path) => {
    await mkdir(path, { recursive: true, mode: 0o700 })
  },
  link: (from, to) => link(from, to),
  syncFolder: async (path) => {
    const handle = await promisify(open)(path, 'r')
    try {
      await promisify(fsync)(handle)
    } finally {
      await promisify(close)(handle)
    }
  },
  remove: (path) => unlink(path),
}

/** Streams into tmp/, hashing and counting; what is more than `most_bytes` is dropped at once. */
export async function receive(
  source: Readable,
  given: { readonly data: string; readonly fileName: string; readonly most_bytes?: number },
): Promise<Result<Received>> {
  const most_bytes = given.most_bytes ?? MOST_bytes
  const folder = join(given.data, 'tmp')
  await mkdir(folder, { recursive: true, mode: 0o700 })
  const path = join(folder, randomBytes(16).toString('hex'))
  const hash = createHash('sha256')
  let bytes = 0
  let isTooLarge = false
  try {
    await pipeline(
      source,
      async function* (chunks: AsyncIterable<Buffer>) {
        for await (const chunk of chunks) {
          bytes += chunk.length
          if (bytes > most_bytes) isTooLarge = true
          // What is too large is read to its end and dropped: the answer can then be heard.
          if (isTooLarge) continue
          hash.update(chunk)
          yield chunk
        }
      },
      createWriteStream(path, { mode: 0o600, flags: 'wx' }),
    )
  } catch (fault) {
    await unlink(path).catch(() => {})
    throw fault
  }
  const isCut = (source as Readable & { truncated?: boolean }).truncated === true
  if (isTooLarge || isCut) {
    await unlink(path).catch(() => {})
    return refused([
      refusal('too-large', `At most ${Math.round(most_bytes / 1024 / 1024)} MB for one file. Nothing was saved.`, { field: 'photo' }),
    ])
  }
  return done({ path, sha256: hash.digest('hex'), bytes, fileName: given.fileName.slice(0, 200) })
}

/** Puts a received file in its place for good. One that is there already is the same file: a success. */
export async function keepOriginal(
  given: { readonly data: string; readonly received: Received; readonly type: string },
  ops: Disk = disk,
): Promise<void> {
  const { data, received, type } = given
  const to = photoPath({ data, sha256: received.sha256, type })
  await ops.syncFile(received.path)
  await ops.makeFolder(dirname(to))
  try {
    await ops.link(received.path, to)
  } catch (fault) {
    if ((fault as NodeJS.ErrnoException).code !== 'EEXIST') throw fault
  }
  // The new entry, and the folders that may be new themselves.
  for (const folder of [dirname(to), dirname(dirname(to)), join(data, 'photos')]) await ops.syncFolder(folder)
  await ops.remove(received.path)
}

export async function drop(received: Received): Promise<void> {
  await unlink(received.path).catch(() => {})
}

/** What a crash left in tmp/ for over an hour. Answers how many went. */
export async function sweepTemporary(data: string, now: Date): Promise<number> {
  const folder = join(data, 'tmp')
  let swept = 0
  for (const name of await readdir(folder).catch(() => [])) {
    const found = await stat(join(folder, name)).catch(() => null)
    if (!found || now.getTime() - found.mtimeMs < STALE_ms) continue
    await rm(join(folder, name), { recursive: true, force: true })
    swept++
  }
  return swept
}
