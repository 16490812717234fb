/** Pictures made from originals: turned upright, small, and with nothing in them but the picture. A cache: it can be made again. */
import { lstatSync, rmSync } from 'node:fs'
import { lstat, mkdir, open, rename } from 'node:fs/promises'
import { dirname, join } from 'node:path'
import sharp from 'sharp'
import type { Result } from './contract.ts'
import { isFull } from './damage.ts'
import { type Head, mustFit, type Spare, TooLittleMemory } from './decoder-memory.ts'
import type { PhotoKind } from './photo-kinds.ts'
import { photoPath } from './photo-path.ts'
import { done, refusal, refused } from './refusals.ts'
import { spareMemory_bytes } from './spare-memory.ts'

const MOST_Mpx = 80
const SECONDS = 20
export const SIZES_px = { thumbnail: 320, picture: 1600 } as const
export type Size = keyof typeof SIZES_px

// Only what is taken can be decoded at all, and one at a time: a phone's photo is 150 MB once unpacked.
sharp.block({ operation: ['VipsForeignLoad'] })
sharp.unblock({
  operation: ['VipsForeignLoadJpegFile', 'VipsForeignLoadPngFile', 'VipsForeignLoadWebpFile', 'VipsForeignLoadHeifFile'],
})
sharp.concurrency(1)
sharp.cache(false)
let queue: Promise<unknown> = Promise.resolve()

export type Measured = { readonly width_px: number; readonly height_px: number }

/** Whether a file holds a whole picture of bearable size; its sides as it is shown. The large picture is made on the way. */
export async function lookInto(given: {
  readonly data: string
  readonly path: string
  readonly sha256: string
  readonly type: PhotoKind
  readonly spare_bytes?: Spare
}): Promise<Result<Measured>> {
  const { data, path, sha256, type, spare_bytes } = given
  const head = await headOf(path)
  if (head === null)
    return refused([refusal('not-a-picture', 'This file says that it is a picture and cannot be read as one.', { field: 'photo' })])
  const size_Mpx = (head.width_px * head.height_px) / 1e6
  if (size_Mpx > MOST_Mpx)
    return refused([
      refusal('not-a-picture', `This picture is too large: ${Math.round(size_Mpx)} Mpx, limit ${MOST_Mpx} Mpx.`, { field: 'photo' }),
    ])
  try {
    await inTurn(() => make({ from: path, type, to: cachedPath({ data, sha256, size: 'picture' }), size: 'picture', spare_bytes }))
  } catch (fault) {
    if (isFull(fault)) throw fault
    if (fault instanceof TooLittleMemory) return refused([refusal('too-little-memory', fault.message, { field: 'photo' })])
    return refused([
      refusal('not-a-picture', 'This picture is damaged or was cut short on its way. Send it again, or take another.', { field: 'photo' }),
    ])
  }
  return done({ width_px: head.width_px, height_px: head.height_px })
}

/**
 * The path of a small picture, made now if it is not there; null where the original is missing or cannot be shown. The smallest is made of
 * the larger one where that is there, so that the original is not decoded twice.
 */
export async function pictureOf(given: {
  readonly data: string
  readonly sha256: string
  readonly type: string
  readonly size: Size
  readonly spare_bytes?: Spare
}): Promise<string | null> {
  const to = cachedPath(given)
  if (await isThere(to)) return to
  const larger = cachedPath({ ...given, size: 'picture' })
  const [original, hasLarger] = [photoPath(given), await isThere(larger)]
  if (!(await isThere(original))) return null
  const [from, type] = hasLarger ? [larger, 'image/webp'] : [original, given.type]
  try {
    await inTurn(() => make({ from, type: type as PhotoKind, to, size: given.size, spare_bytes: given.spare_bytes }))
    return to
  } catch (fault) {
    if (isFull(fault)) throw fault
    return null
  }
}

/**
 * The same picture as a JPEG for strangers: made from the picture and not from the original, so that nothing the original carries can come
 * along; only what a decoder needs stands in it. Null as above.
 */
export async function bareJpegOf(given: {
  readonly data: string
  readonly sha256: string
  readonly type: string
  readonly size: Size
}): Promise<string | null> {
  const to = cachedPath({ ...given, ending: 'jpg' })
  if (await isThere(to)) return to
  const from = await pictureOf(given)
  if (from === null) return null
  try {
    await inTurn(async () =>
      write(to, await sharp(from, { autoOrient: true }).timeout({ seconds: SECONDS }).jpeg({ quality: 82 }).toBuffer()),
    )
    return to
  } catch {
    return null
  }
}

/** Those made of an original that is gone for good: they show what it showed. */
export function deletePictures(given: { readonly data: string; readonly sha256: string }): void {
  for (const size of Object.keys(SIZES_px) as Size[])
    for (const ending of ['webp', 'jpg'] as const) rmSync(cachedPath({ ...given, size, ending }), { force: true })
}

/** Whether an original is where it should be, and of the size it had. What it holds is compared by the nightly check. */
export function originalIs(given: { readonly data: string; readonly sha256: string; readonly type: string; readonly bytes: number }) {
  const found = lstatSync(photoPath(given), { throwIfNoEntry: false })
  return !found?.isFile() ? 'missing' : found.size === given.bytes ? 'there' : 'altered'
}

/** A file of its own, and no link to another. */
export async function isThere(path: string): Promise<boolean> {
  return (await lstat(path).catch(() => null))?.isFile() === true
}

async function make(given: {
  readonly from: string
  readonly type: PhotoKind
  readonly to: string
  readonly size: Size
  readonly spare_bytes: Spare | undefined
}): Promise<void> {
  const side_px = SIZES_px[given.size]
  // In its turn and not before: what the picture ahead took has been given back by then.
  const head = await headOf(given.from)
  if (head !== null) await mustFit({ path: given.from, type: given.type, head, spare_bytes: given.spare_bytes ?? spareMemory_bytes })
  // Turned as its EXIF says, then written without any of it: sharp keeps no metadata unless asked.
  const bytes = await sharp(given.from, { limitInputPixels: MOST_Mpx * 1e6, failOn: 'truncated', autoOrient: true })
    .timeout({ seconds: SECONDS })
    .resize({ width: side_px, height: side_px, fit: 'inside', withoutEnlargement: true })
    .webp({ quality: 80 })
    .toBuffer()
  await write(given.to, bytes)
}

async function write(to: string, bytes: Buffer): Promise<void> {
  await mkdir(dirname(to), { recursive: true, mode: 0o700 })
  const part = `${to}.part`
  const handle = await open(part, 'w', 0o600)
  try {
    await handle.writeFile(bytes)
  } finally {
    await handle.close()
  }
  await rename(part, to)
}

async function headOf(path: string): Promise<Head | null> {
  try {
    const { width, height, orientation, channels, depth, isProgressive } = await sharp(path, { limitInputPixels: false }).metadata()
    if (!width || !height) return null
    // EXIF orientations 5 to 8 lie on their side.
    const sides = (orientation ?? 1) >= 5 ? { width_px: height, height_px: width } : { width_px: width, height_px: height }
    return { ...sides, channels: channels ?? 4, isDeep: depth !== 'uchar', isInterlaced: isProgressive === true }
  } catch {
    return null
  }
}

function cachedPath(given: {
  readonly data: string
  readonly sha256: string
  readonly size: Size
  readonly ending?: 'webp' | 'jpg'
}): string {
  return join(given.data, 'thumbnails', given.sha256.slice(0, 2), `${given.sha256}-${SIZES_px[given.size]}.${given.ending ?? 'webp'}`)
}

function inTurn<T>(work: () => Promise<T>): Promise<T> {
  const turn = queue.then(work, work)
  queue = turn.catch(() => {})
  return turn
}
