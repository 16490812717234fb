/** What a decoder holds, by hand, and what becomes of a picture that does not fit. */
import { createHash } from 'node:crypto'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { BESIDE_bytes, decoderNeeds } from '../../server/records/decoder-memory.ts'
import { coefficients_bytes, jpegFrameOf } from '../../server/records/jpeg-frame.ts'
import { keepOriginal } from '../../server/records/photo-files.ts'
import type { PhotoKind } from '../../server/records/photo-kinds.ts'
import { photoPath } from '../../server/records/photo-path.ts'
import { lookInto, pictureOf } from '../../server/records/pictures.ts'

let folder = ''
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'loombook-decoder-'))
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const WIDTH = 100
const HEIGHT = 50
const drawn = () => sharp({ create: { width: WIDTH, height: HEIGHT, channels: 3, background: '#8a5a00' } })
const put = (name: string, bytes: Buffer) => {
  const path = join(folder, name)
  writeFileSync(path, bytes)
  return path
}
const hashOf = (text: string) => createHash('sha256').update(text).digest('hex')
const sides = { width_px: 8000, height_px: 6000 }
const twoByTwo = [
  { across: 2, down: 2 },
  { across: 1, down: 1 },
  { across: 1, down: 1 },
]
const evenly = twoByTwo.map(() => ({ across: 1, down: 1 }))

test.each([
  // 500 × 375 units of 16 × 16 pixels, each 4 + 1 + 1 blocks of 64 numbers of 2 bytes: 187,500 × 6 × 128
  ['48 Mpx, colours at half the size', { ...sides, samplings: twoByTwo }, 144_000_000],
  // 1000 × 750 units of 8 × 8, three blocks each: 750,000 × 3 × 128
  ['48 Mpx, colours in full', { ...sides, samplings: evenly }, 288_000_000],
  // 500 × 750 units of 16 × 8, 2 + 1 + 1 blocks: 375,000 × 4 × 128
  ['48 Mpx, colours at half the width', { ...sides, samplings: [{ across: 2, down: 1 }, ...evenly.slice(1)] }, 192_000_000],
  ['48 Mpx of grey', { ...sides, samplings: [{ across: 1, down: 1 }] }, 96_000_000],
  // One pixel more than a unit takes two either way: 2 × 2 × 6 × 128
  ['17 × 17', { width_px: 17, height_px: 17, samplings: twoByTwo }, 3072],
])('coefficients of a JPEG: %s', (_, frame, bytes) => {
  expect(coefficients_bytes({ ...frame, isProgressive: true, hasManyScans: true })).toBe(bytes)
  expect(coefficients_bytes({ ...frame, isProgressive: false, hasManyScans: true })).toBe(bytes)
  expect(coefficients_bytes({ ...frame, isProgressive: false, hasManyScans: false })).toBe(0)
})

test('the head of a JPEG is read wherever it stands, however much is noted before it', async () => {
  const block = Buffer.concat([Buffer.from([0xff, 0xe1, 0xff, 0xff]), Buffer.from('Exif\0\0'), Buffer.alloc(65_527, 65)])
  for (const isProgressive of [true, false]) {
    const jpeg = await drawn().jpeg({ progressive: isProgressive }).toBuffer()
    const fat = Buffer.concat([jpeg.subarray(0, 2), ...Array.from({ length: 30 }, () => block), Buffer.from([0xff]), jpeg.subarray(2)])
    const frame = await jpegFrameOf(put(`${isProgressive}.jpg`, fat))
    expect(frame).toEqual({ width_px: 100, height_px: 50, samplings: twoByTwo, isProgressive, hasManyScans: isProgressive })
  }
  // A scan of one colour of three: others have to follow. The count is the byte behind the marker and its length.
  const baseline = await drawn().jpeg().toBuffer()
  const scan = baseline.indexOf(Buffer.from([0xff, 0xda, 0, 12]))
  baseline[scan + 4] = 1
  expect(await jpegFrameOf(put('scans.jpg', baseline))).toMatchObject({ isProgressive: false, hasManyScans: true })
  expect(await jpegFrameOf(put('cut.jpg', baseline.subarray(0, scan)))).toBe(null)
  expect(await jpegFrameOf(put('none.jpg', Buffer.from([0xff, 0xd8, 0x41, 0x41, 0x41, 0x41])))).toBe(null)
})

// 100 × 50 = 5000 pixels. JPEG: 7 × 4 units of 16 × 16, 28 × 6 × 128 = 21,504.
test.each([
  ['baseline JPEG', 'image/jpeg', () => drawn().jpeg(), 0],
  ['progressive JPEG', 'image/jpeg', () => drawn().jpeg({ progressive: true }), 21_504],
  ['PNG', 'image/png', () => drawn().png(), 0],
  ['interlaced PNG, three colours', 'image/png', () => drawn().png({ progressive: true }), 15_000],
  ['interlaced PNG, three colours and alpha', 'image/png', () => drawn().ensureAlpha().png({ progressive: true }), 20_000],
  ['interlaced PNG of 16 bits', 'image/png', () => drawn().toColourspace('rgb16').png({ progressive: true }), 30_000],
  ['lossy WebP', 'image/webp', () => drawn().webp(), 0],
  ['AVIF', 'image/avif', () => drawn().avif(), 90_000],
  ['AVIF of 10 bits', 'image/avif', () => drawn().avif({ bitdepth: 10 }), 120_000],
] as const)('what is held of a picture of 5000 pixels: %s', async (name, type, make, bytes) => {
  const path = put(`${name}.picture`, await make().toBuffer())
  expect((await needsOf(path, type)).whole_bytes).toBe(bytes)
})
test('of a WebP: by its chunks, and the file beside it', async () => {
  const lossless = await drawn().webp({ lossless: true }).toBuffer()
  const needs = await needsOf(put('lossless.webp', lossless), 'image/webp')
  expect([needs.form, needs.whole_bytes]).toEqual(['lossless WebP', 4 * 5000 + lossless.length])
  const clear = await drawn().ensureAlpha(0.5).webp().toBuffer()
  expect((await needsOf(put('alpha.webp', clear), 'image/webp')).whole_bytes).toBe(5000 + clear.length)
  const frames = [0, 1].map((n) => ({ create: { width: 100, height: 50, channels: 3 as const, background: `#12${n}` } }))
  const moving = await sharp(frames as never, { join: { animated: true } } as never)
    .webp()
    .toBuffer()
  expect((await needsOf(put('moving.webp', moving), 'image/webp')).whole_bytes).toBe(12 * 5000 + moving.length)
})

test('what does not fit is refused in words of its own; what fits, and what is not held whole, is taken', async () => {
  const large = sharp({ create: { width: 4000, height: 3000, channels: 3, background: '#8a5a00' } })
  const path = put('large.jpg', await large.clone().jpeg({ progressive: true }).toBuffer())
  const look = (given: { path: string; spare: number | null; name: string }) =>
    lookInto({ data: folder, path: given.path, sha256: hashOf(given.name), type: 'image/jpeg', spare_bytes: () => given.spare })
  // 250 × 188 units (3000 / 16 = 187.5) × 6 × 128 = 36,096,000, and 48,000,000 beside it: 84,096,000
  expect(await look({ path, spare: 84_095_999, name: 'short' })).toEqual({
    ok: false,
    refusals: [
      {
        code: 'too-little-memory',
        status: 413,
        field: 'photo',
        sentence:
          'This is a progressive JPEG of 12 Mpx: to open it the server needs 85 MB of memory at once and has 84 MB left. Save it as a baseline JPEG (not progressive) or in a smaller size and send that, or give the server more memory.',
      },
    ],
  })
  expect((await look({ path, spare: 84_096_000, name: 'fits' })).ok).toBe(true)
  expect((await look({ path, spare: null, name: 'no bound' })).ok).toBe(true)
  const baseline = put('baseline.jpg', await large.clone().jpeg().toBuffer())
  expect((await look({ path: baseline, spare: 0, name: 'baseline' })).ok).toBe(true)
})

test('an original kept earlier is not opened either; a picture that was made of it makes the smaller one', async () => {
  const bytes = await drawn().jpeg({ progressive: true }).toBuffer()
  const sha256 = createHash('sha256').update(bytes).digest('hex')
  const path = put('received.jpg', bytes)
  await keepOriginal({ data: folder, received: { path, sha256, bytes: bytes.length, fileName: 'a.jpg' }, type: 'image/jpeg' })
  const given = { data: folder, sha256, type: 'image/jpeg' }
  expect(photoPath(given)).toContain(sha256)
  expect(await pictureOf({ ...given, size: 'thumbnail', spare_bytes: () => BESIDE_bytes })).toBe(null)
  expect(await pictureOf({ ...given, size: 'picture', spare_bytes: () => null })).toContain(`${sha256}-1600`)
  expect(await pictureOf({ ...given, size: 'thumbnail', spare_bytes: () => BESIDE_bytes })).toContain(`${sha256}-320`)
})

async function needsOf(path: string, type: PhotoKind) {
  const { width = 0, height = 0, channels = 0, depth, isProgressive } = await sharp(path).metadata()
  const head = { width_px: width, height_px: height, channels, isDeep: depth !== 'uchar', isInterlaced: isProgressive === true }
  return decoderNeeds({ path, type, head })
}
