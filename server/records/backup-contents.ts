/**
 * A backup's list of contents, `manifest.json`. Its first line says what the backup holds as a whole, then every photo has a line of its own:
 * there may be a hundred thousand, so whoever reads it goes through them one by one.
 */
import { join } from 'node:path'
import { z } from 'zod'
import type { Files } from './files.ts'
import { extensions } from './photo-path.ts'

const hash64 = z.string().regex(/^[0-9a-f]{64}$/)
const photoShape = z.object({
  name: z
    .string()
    .regex(new RegExp(`^photos/[0-9a-f]{2}/[0-9a-f]{2}/[0-9a-f]{64}\\.(${[...Object.values(extensions), 'bin'].join('|')})$`)),
  bytes: z.number().int().min(1),
  sha256: hash64,
})
const headShape = z.object({
  made_at: z.string(),
  schema_version: z.number().int(),
  database: z.object({ name: z.literal('loombook.sqlite'), bytes: z.number().int(), sha256: hash64 }),
  rows: z.record(z.string(), z.number().int()),
  /** of the photos and papers that follow */
  totals: z.object({ photos: z.number().int(), bytes: z.number().int() }),
  /** photos that the records name and that were already gone or altered when the backup was made */
  missing: z.array(z.string()),
})
/** As it was until 2026-11-27: one object over as many lines as it took, and without totals. */
const formerShape = headShape.omit({ totals: true }).extend({ photos: z.array(photoShape) })

export type PhotoFile = z.infer<typeof photoShape>
export type Head = z.infer<typeof headShape>

/** It is not there, or does not read as such a list. */
export class ContentsFault extends Error {}

const BEGINS = '"photos":['
const ENDS = ']}'
const AT_ONCE = 1000
const pathIn = (folder: string) => join(folder, 'manifest.json')

export async function writeContents(
  folder: string,
  given: { readonly head: Omit<Head, 'totals'>; readonly photos: readonly PhotoFile[]; readonly files: Files },
): Promise<Head> {
  const { photos, files } = given
  const head = { ...given.head, totals: totalsOf(photos) }
  await files.write(pathIn(folder), linesOf(head, photos))
  return head
}

/** Null where there is none that can be read. */
export async function headOf(folder: string, files: Files): Promise<Head | null> {
  if ((await files.bytes(pathIn(folder))) === null) return null
  try {
    for await (const line of await files.lines(pathIn(folder)))
      return line.endsWith(BEGINS) ? headShape.parse(JSON.parse(`${line}${ENDS}`)) : formerHead(await formerOf(folder, files))
  } catch (fault) {
    if (!isUnreadable(fault)) throw fault
  }
  return null
}

/** Those that can be read of it, however many: what it is taken from need not be whole. */
export async function* photosReadable(folder: string, files: Files): AsyncGenerator<PhotoFile> {
  try {
    yield* photosIn(folder, files)
  } catch (fault) {
    if (!(fault instanceof ContentsFault)) throw fault
  }
}

/** Throws `ContentsFault` where it is not there, a line of it does not read as it should, or its end is missing. */
export async function* photosIn(folder: string, files: Files): AsyncGenerator<PhotoFile> {
  if ((await files.bytes(pathIn(folder))) === null) throw new ContentsFault('It is not there.')
  let [at, isOver] = [0, false]
  try {
    for await (const line of await files.lines(pathIn(folder))) {
      if (at++ === 0) {
        if (line.endsWith(BEGINS)) continue
        yield* (await formerOf(folder, files)).photos
        return
      }
      if (isOver) throw new ContentsFault('Something follows its end.')
      isOver = line === ENDS
      if (!isOver) yield photoShape.parse(JSON.parse(line.replace(/,$/, '')))
    }
  } catch (fault) {
    throw isUnreadable(fault) ? new ContentsFault(`Line ${at} does not read as it should.`) : fault
  }
  if (!isOver) throw new ContentsFault('Its end is missing.')
}

/** Many lines at a time: each is a call of the disk. */
function* linesOf(head: Head, photos: readonly PhotoFile[]): Generator<string> {
  yield `${JSON.stringify(head).slice(0, -1)},${BEGINS}\n`
  for (let at = 0; at < photos.length; at += AT_ONCE) {
    const lines = photos.slice(at, at + AT_ONCE).map((photo) => JSON.stringify(photo))
    yield `${lines.join(',\n')}${at + AT_ONCE < photos.length ? ',' : ''}\n`
  }
  yield `${ENDS}\n`
}

async function formerOf(folder: string, files: Files): Promise<z.infer<typeof formerShape>> {
  return formerShape.parse(JSON.parse((await files.read(pathIn(folder))).toString('utf8')))
}

function formerHead({ photos, ...head }: z.infer<typeof formerShape>): Head {
  return { ...head, totals: totalsOf(photos) }
}

function totalsOf(photos: readonly PhotoFile[]): Head['totals'] {
  return { photos: photos.length, bytes: photos.reduce((sum, photo) => sum + photo.bytes, 0) }
}

function isUnreadable(fault: unknown): boolean {
  return fault instanceof z.ZodError || fault instanceof SyntaxError
}
