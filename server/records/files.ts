/** The few things backups ask of the disk, in one object, so that a failing disk can be handed in. */
import { createHash } from 'node:crypto'
import { constants, createReadStream, type Stats } from 'node:fs'
import { copyFile, link, lstat, mkdir, open, readdir, readFile, rename, rm, rmdir, stat, statfs, unlink, writeFile } from 'node:fs/promises'
import { join } from 'node:path'

export type Files = {
  mkdir(path: string): Promise<void>
  readdir(path: string): Promise<string[]>
  read(path: string): Promise<Buffer>
  /** line by line, however long it is; what fails is thrown while it is gone through */
  lines(path: string): Promise<AsyncIterable<string>>
  /** written whole and on the disk when it answers */
  write(path: string, text: string | Iterable<string>): Promise<void>
  /** never over a file that is there */
  copy(from: string, to: string): Promise<void>
  link(from: string, to: string): Promise<void>
  sync(path: string): Promise<void>
  rename(from: string, to: string): Promise<void>
  remove(path: string): Promise<void>
  /** null where there is nothing */
  bytes(path: string): Promise<number | null>
  /** when what is in it was last written; null where there is nothing */
  changed_ms(path: string): Promise<number | null>
  sha256(path: string): Promise<string>
  free_bytes(path: string): Promise<number>
}

export const realFiles: Files = {
  mkdir: async (path) => void (await mkdir(path, { recursive: true, mode: 0o700 })),
  readdir: (path) => readdir(path),
  read: (path) => readFile(path),
  lines: async (path) => linesOf(path),
  async write(path, text) {
    const file = await open(path, 'w', 0o600)
    try {
      await writeFile(file, text)
      await file.sync()
    } finally {
      await file.close()
    }
  },
  copy: (from, to) => copyFile(from, to, constants.COPYFILE_EXCL),
  link: (from, to) => link(from, to),
  async sync(path) {
    const file = await open(path, 'r')
    try {
      await file.sync()
    } finally {
      await file.close()
    }
  },
  rename: (from, to) => rename(from, to),
  remove,
  bytes: async (path) => (await factsOf(path))?.size ?? null,
  changed_ms: async (path) => (await factsOf(path))?.mtimeMs ?? null,
  async sha256(path) {
    const hash = createHash('sha256')
    for await (const piece of createReadStream(path)) hash.update(piece)
    return hash.digest('hex')
  },
  async free_bytes(path) {
    const disk = await statfs(path)
    return disk.bavail * disk.bsize
  },
}

async function remove(path: string): Promise<void> {
  const facts = await lstat(path).catch(() => null)
  await (facts?.isDirectory() ? removeFolder(path) : rm(path, { force: true }))
}

/** One after another: `rm` by itself asks for all of a tree at once, and there may be a hundred thousand files in it. */
async function removeFolder(path: string): Promise<void> {
  for (const one of await readdir(path, { withFileTypes: true })) {
    const inner = join(path, one.name)
    await (one.isDirectory() ? removeFolder(inner) : unlink(inner))
  }
  await rmdir(path)
}

async function* linesOf(path: string): AsyncGenerator<string> {
  let begun = ''
  for await (const piece of createReadStream(path, 'utf8')) {
    const lines = `${begun}${piece}`.split('\n')
    begun = lines.pop() ?? ''
    yield* lines
  }
  if (begun !== '') yield begun
}

async function factsOf(path: string): Promise<Stats | null> {
  try {
    return await stat(path)
  } catch (fault) {
    if ((fault as NodeJS.ErrnoException).code === 'ENOENT') return null
    throw fault
  }
}
