/** Opens a zip that somebody sends: nothing in it is believed. Only files that an archive may hold leave it, each counted as it comes, checked against the manifest. */
import { createHash } from 'node:crypto'
import { createWriteStream } from 'node:fs'
import { mkdir, readFile } from 'node:fs/promises'
import { join } from 'node:path'
import { Transform } from 'node:stream'
import { pipeline } from 'node:stream/promises'
import yauzl, { type Entry, type ZipFile } from 'yauzl'
import { z } from 'zod'
import { FORMAT } from './archive-tables.ts'
import type { Manifest } from './archive-write.ts'
import type { Result } from './contract.ts'
import { done, refusal, refused } from './refusals.ts'

export type Limits = { readonly entries: number; readonly total_bytes: number; readonly file_bytes: number; readonly ratio: number }
export const LIMITS: Limits = { entries: 300_000, total_bytes: 40e9, file_bytes: 4e9, ratio: 400 }
/** Under this a file may be packed as tightly as it likes. */
const SMALL_bytes = 1_000_000

export type OpenedArchive = { readonly manifest: Manifest; readonly pathOf: (name: string) => string }

const NAMES = [
  /^manifest\.json$/,
  /^README\.txt$/,
  /^records\/[a-z_]{1,40}\.jsonl$/,
  /^csv\/[a-z_]{1,40}\.csv$/,
  /^vehicles\/[0-9a-f-]{36}\/document\.json$/,
  /^photos\/[0-9a-f]{2}\/[0-9a-f]{2}\/[0-9a-f]{64}\.[a-z]{3,5}$/,
]

const manifestSchema = z.strictObject({
  format: z.literal(FORMAT),
  madeAt: z.iso.datetime(),
  schemaVersion: z.number().int().positive(),
  scope: z.enum(['household', 'vehicle']),
  files: z.record(
    z.string(),
    z.strictObject({
      bytes: z.number().int().min(0),
      sha256: z.string().regex(/^[0-9a-f]{64}$/),
      rows: z.number().int().min(0).exactOptional(),
    }),
  ),
})

/** Unpacks into `folder`, under names of our own. Whoever calls removes the folder. */
export async function openArchive(path: string, folder: string, limits: Limits = LIMITS): Promise<Result<OpenedArchive>> {
  try {
    await mkdir(folder, { recursive: true, mode: 0o700 })
    const found = await unpack(path, { folder, limits })
    return await checked(folder, found)
  } catch (fault) {
    if (fault instanceof NotTaken) return refused([refusal('archive-not-taken', fault.message)])
    if (isOfTheZip(fault))
      return refused([refusal('archive-not-taken', 'This is not a whole zip file, or it is damaged. Nothing was taken in.')])
    throw fault
  }
}

class NotTaken extends Error {}

type Unpacked = ReadonlyMap<string, { readonly bytes: number; readonly sha256: string }>

async function unpack(path: string, given: { readonly folder: string; readonly limits: Limits }): Promise<Unpacked> {
  const { folder, limits } = given
  const file = await yauzl.openPromise(path, { lazyEntries: true, autoClose: false, validateEntrySizes: true, strictFileNames: true })
  try {
    if (file.entryCount > limits.entries)
      throw new NotTaken(`This zip says that it holds ${file.entryCount} files: more than an archive may.`)
    const entries = await entriesOf(file, limits)
    const found = new Map<string, { readonly bytes: number; readonly sha256: string }>()
    let total = 0
    for (const entry of entries) {
      const name = entry.fileName
      const kept = await unpackOne(file, entry, {
        to: join(folder, safe(name)),
        most: Math.min(limits.file_bytes, limits.total_bytes - total),
        limits,
      })
      total += kept.bytes
      found.set(name, kept)
    }
    return found
  } finally {
    file.close()
  }
}

async function entriesOf(file: ZipFile, limits: Limits): Promise<readonly Entry[]> {
  const entries: Entry[] = []
  const names = new Set<string>()
  for await (const entry of file.eachEntry()) {
    const name = entry.fileName
    if (entries.length >= limits.entries) throw new NotTaken('This zip holds more files than an archive may.')
    if (!NAMES.some((pattern) => pattern.test(name))) throw new NotTaken(`“${name.slice(0, 80)}” does not belong in an archive.`)
    if (names.has(name)) throw new NotTaken(`“${name}” is in this zip twice.`)
    names.add(name)
    if ((entry.generalPurposeBitFlag & 1) !== 0) throw new NotTaken('This zip is encrypted.')
    // Upper half: the Unix mode. Only plain files, or nothing said.
    const mode = (entry.externalFileAttributes >>> 16) & 0o170000
    if (mode !== 0 && mode !== 0o100000) throw new NotTaken(`“${name}” is no plain file.`)
    if (entry.compressionMethod !== 0 && entry.compressionMethod !== 8)
      throw new NotTaken(`“${name}” is packed in a way that is not known here.`)
    if (entry.uncompressedSize > limits.file_bytes) throw new NotTaken(`“${name}” is larger than an archive’s files may be.`)
    entries.push(entry)
  }
  // Each must have bytes of its own: one heap of zeros under many names is a bomb.
  const placed = [...entries].sort((a, b) => a.relativeOffsetOfLocalHeader - b.relativeOffsetOfLocalHeader)
  for (let n = 1; n < placed.length; n++) {
    const [before, after] = [placed[n - 1] as Entry, placed[n] as Entry]
    if (before.relativeOffsetOfLocalHeader + 30 + before.compressedSize > after.relativeOffsetOfLocalHeader)
      throw new NotTaken('Files of this zip lie over one another.')
  }
  return entries
}

async function unpackOne(
  file: ZipFile,
  entry: Entry,
  given: { readonly to: string; readonly most: number; readonly limits: Limits },
): Promise<{ readonly bytes: number; readonly sha256: string }> {
  const hash = createHash('sha256')
  let bytes = 0
  const counting = new Transform({
    transform(chunk: Buffer, _encoding, next) {
      bytes += chunk.length
      if (bytes > given.most) return next(new NotTaken('This archive unpacks to more than is taken.'))
      if (bytes > SMALL_bytes && bytes > entry.compressedSize * given.limits.ratio)
        return next(new NotTaken(`“${entry.fileName}” unpacks to far more than it is: it is not taken.`))
      hash.update(chunk)
      next(null, chunk)
    },
  })
  await pipeline(await file.openReadStreamPromise(entry), counting, createWriteStream(given.to, { mode: 0o600, flags: 'wx' }))
  return { bytes, sha256: hash.digest('hex') }
}

async function checked(folder: string, found: Unpacked): Promise<Result<OpenedArchive>> {
  if (!found.has('manifest.json')) throw new NotTaken('There is no manifest.json in this zip: it is no archive of this program.')
  if ((found.get('manifest.json')?.bytes ?? 0) > 100_000_000) throw new NotTaken('The manifest is too large.')
  const text = await readFile(join(folder, safe('manifest.json')), 'utf8')
  const read = manifestSchema.safeParse(parse(text))
  if (!read.success) throw new NotTaken('The manifest of this archive is not one that is known here; a newer program may have written it.')
  const manifest = read.data as Manifest
  for (const [name, said] of Object.entries(manifest.files)) {
    const kept = found.get(name)
    if (!kept) throw new NotTaken(`The manifest names “${name.slice(0, 80)}”, which is not in the archive.`)
    if (kept.bytes !== said.bytes || kept.sha256 !== said.sha256)
      throw new NotTaken(`“${name}” is not as the manifest says: it was changed or damaged.`)
  }
  for (const name of found.keys())
    if (name !== 'manifest.json' && !Object.hasOwn(manifest.files, name)) throw new NotTaken(`“${name}” is not in the manifest.`)
  return done({ manifest, pathOf: (name) => join(folder, safe(name)) })
}

function parse(text: string): unknown {
  try {
    return JSON.parse(text)
  } catch {
    return null
  }
}

function safe(name: string): string {
  return name.replaceAll('/', '_')
}

/** What the reader of zips or the unpacking says of the bytes; what the disk says has a code that begins with E. */
function isOfTheZip(fault: unknown): boolean {
  const code = (fault as { code?: string }).code
  return fault instanceof Error && !(typeof code === 'string' && /^E[A-Z]+$/.test(code))
}
