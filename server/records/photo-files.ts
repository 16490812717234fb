/**
 * Originals on the disk. A file is whole and synced under its own hash before any row names it, so that a crash leaves at most a file that
 * no row names: received into tmp/ while hashed and counted, looked into, synced, linked to its place, the folders synced.
 */
import { createHash, randomBytes } from 'node:crypto'
import { close, createReadStream, createWriteStream, fsync, open, rmSync } from 'node:fs'
import { link, lstat, mkdir, open as openFile, readdir, rename, rm, stat, unlink } from 'node:fs/promises'
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
  replace(from: string, to: string): Promise<void>
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
  replace: (from, to) => rename(from, to),
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
  const file = createWriteStream(path, { mode: 0o600, flags: 'wx' })
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
      file,
    )
  } catch (fault) {
    // What breaks off at once does so before the file is there.
    if (!file.closed) await new Promise<void>((resolve) => file.once('close', () => resolve()))
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
  return done({ path, sha256: hash.digest('hex'), bytes, fileName: plainName(given.fileName) })
}

/**
 * Puts a received file in its place for good. One that is there already is the same file, which is a success; unless it was damaged since:
 * then what was just received takes its place.
 */
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
    if (!(await isWhole({ path: to, sha256: received.sha256 }))) await ops.replace(received.path, to)
  }
  // The new entry, and the folders that may be new themselves.
  for (const folder of [dirname(to), dirname(dirname(to)), join(data, 'photos'), data]) await ops.syncFolder(folder)
  // Its name in tmp/ is gone already where it took the place of a damaged one.
  await ops.remove(received.path).catch((fault: NodeJS.ErrnoException) => {
    if (fault.code !== 'ENOENT') throw fault
  })
}

/** Whether a file is there, is no link, and holds what its name says. */
async function isWhole(given: { readonly path: string; readonly sha256: string }): Promise<boolean> {
  const found = await lstat(given.path)
  if (!found.isFile()) return false
  const hash = createHash('sha256')
  for await (const chunk of createReadStream(given.path)) hash.update(chunk as Buffer)
  return hash.digest('hex') === given.sha256
}

const held = new Map<string, number>()

/** While `work` runs, from the file in its place to the row that names it, nobody takes the file for one that no row names. */
export async function holdingOriginal<T>(sha256: string, work: () => Promise<T>): Promise<T> {
  held.set(sha256, (held.get(sha256) ?? 0) + 1)
  try {
    return await work()
  } finally {
    const others = (held.get(sha256) ?? 1) - 1
    if (others === 0) held.delete(sha256)
    else held.set(sha256, others)
  }
}

/** Deletes an original that no row names, unless one is about to. In one go: nothing can come between the question and the deed. */
export function deleteOriginal(given: { readonly data: string; readonly sha256: string; readonly type: string }): void {
  if (!held.has(given.sha256)) rmSync(photoPath(given), { force: true })
}

const LONGEST_name = 200
// What turns the direction of the words around it.
const TURNING = /[\u200e\u200f\u202a-\u202e\u2066-\u2069]/g

/** A name to print: no signs that are none, none that turn the line round; its ending stays where it is too long. */
function plainName(name: string): string {
  const signs = [...name.replaceAll(TURNING, '').replaceAll(/[\p{Cc}\p{Cs}]/gu, '_')]
  return signs.length <= LONGEST_name ? signs.join('') : [...signs.slice(0, LONGEST_name - 11), '…', ...signs.slice(-10)].join('')
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
