/**
 * What a decoder holds at once of a picture, told from its head before it is decoded. Only what grows with the whole picture counts: a
 * baseline JPEG and a PNG that is not interlaced pass by in rows, a lossy WebP shrinks as it is read.
 */
import { open } from 'node:fs/promises'
import { coefficients_bytes, jpegFrameOf } from './jpeg-frame.ts'
import type { PhotoKind } from './photo-kinds.ts'

export type Head = {
  readonly width_px: number
  readonly height_px: number
  readonly channels: number
  /** more than eight bits for each colour of a pixel */
  readonly isDeep: boolean
  readonly isInterlaced: boolean
}
export type Need = {
  /** as a sentence names it */
  readonly form: string
  readonly whole_bytes: number
  /** what somebody can save it as instead */
  readonly instead: string
}
/** bytes that the process may still take; null where no bound is known */
export type Spare = () => number | null

/** Rows on their way, the small picture and its encoder: 42 MB measured for a picture that is not held whole. */
export const BESIDE_bytes = 48e6

const NOTHING = 0
/** libaom's frame and those it refers to, libheif's copy and its colours: 14 to 18 bytes a pixel measured at 24 Mpx, 24 with ten bits. */
const AVIF_bytes_px = 18
const AVIF_DEEP_bytes_px = 24
const AVIF_ALPHA_bytes_px = 4
/** libwebp's vp8l_dec.c: one number of 32 bits for each pixel. An animation has beside it its canvas and the picture before. */
const WEBP_LOSSLESS_bytes_px = 4
const WEBP_MOVING_bytes_px = 12
const WEBP_ALPHA_bytes_px = 1

/** Throws where a picture takes more than there is, in words for who sent it. What is not held whole, and what no bound is known for, fits. */
export async function mustFit(given: {
  readonly path: string
  readonly type: PhotoKind
  readonly head: Head
  readonly spare_bytes: Spare
}): Promise<void> {
  const need = await decoderNeeds(given)
  if (need.whole_bytes === 0) return
  const spare_bytes = given.spare_bytes()
  if (spare_bytes !== null && need.whole_bytes + BESIDE_bytes > spare_bytes)
    throw new TooLittleMemory(wordsFor({ head: given.head, need, spare_bytes }))
}

export class TooLittleMemory extends Error {}

export async function decoderNeeds(given: { readonly path: string; readonly type: PhotoKind; readonly head: Head }): Promise<Need> {
  const { path, type, head } = given
  const pixels = head.width_px * head.height_px
  if (type === 'image/jpeg') {
    const frame = await jpegFrameOf(path)
    return {
      form: (frame?.isProgressive ?? head.isInterlaced) ? 'progressive JPEG' : 'JPEG in several scans',
      // A head that only the decoder can read: two bytes for each colour of each pixel is the most.
      whole_bytes: frame ? coefficients_bytes(frame) : head.isInterlaced ? pixels * head.channels * 2 : NOTHING,
      instead: 'a baseline JPEG (not progressive)',
    }
  }
  if (type === 'image/png') {
    // libpng, png_read_image: of an interlaced picture no row is whole before the seventh pass, so all are held.
    const whole_bytes = head.isInterlaced ? pixels * head.channels * (head.isDeep ? 2 : 1) : NOTHING
    return { form: 'interlaced PNG', whole_bytes, instead: 'a PNG without interlace' }
  }
  if (type === 'image/webp') {
    const { form, each_bytes_px, file_bytes } = await webpForm(path)
    return { form, whole_bytes: each_bytes_px === 0 ? NOTHING : pixels * each_bytes_px + file_bytes, instead: 'a baseline JPEG' }
  }
  if (type === 'image/avif') {
    const alpha_bytes_px = head.channels % 2 === 0 ? AVIF_ALPHA_bytes_px : 0
    return {
      form: 'AVIF',
      whole_bytes: pixels * ((head.isDeep ? AVIF_DEEP_bytes_px : AVIF_bytes_px) + alpha_bytes_px),
      instead: 'a baseline JPEG',
    }
  }
  // Papers and HEIC are not decoded here.
  return { form: type, whole_bytes: NOTHING, instead: '' }
}

function wordsFor({ head, need, spare_bytes }: { readonly head: Head; readonly need: Need; readonly spare_bytes: number }): string {
  const pixels_M = (head.width_px * head.height_px) / 1e6
  const size = `${pixels_M < 10 ? pixels_M.toFixed(1) : Math.round(pixels_M)} Mpx`
  const needs = `${Math.ceil((need.whole_bytes + BESIDE_bytes) / 1e6)} MB`
  const left = `${Math.floor(spare_bytes / 1e6)} MB`
  const what = `This is ${/^[AEIOU]/i.test(need.form) ? 'an' : 'a'} ${need.form} of ${size}`
  return `${what}: to open it the server needs ${needs} of memory at once and has ${left} left. Save it as ${need.instead} or in a smaller size and send that, or give the server more memory.`
}

/** RFC 9649: chunks, each a name and a length; the first that holds a picture tells which kind. The whole file is held beside it. */
async function webpForm(path: string): Promise<{ form: string; each_bytes_px: number; file_bytes: number }> {
  const file = await open(path, 'r')
  try {
    const file_bytes = (await file.stat()).size
    const told = (form: string, each_bytes_px: number) => ({ form, each_bytes_px, file_bytes })
    let hasAlpha = false
    for (let at = 12; at + 8 <= file_bytes; ) {
      const { buffer } = await file.read(Buffer.alloc(8), 0, 8, at)
      const name = buffer.toString('latin1', 0, 4)
      if (name === 'VP8L') return told('lossless WebP', WEBP_LOSSLESS_bytes_px)
      if (name === 'ANIM' || name === 'ANMF') return told('moving WebP', WEBP_MOVING_bytes_px)
      if (name === 'VP8 ') return told('WebP', hasAlpha ? WEBP_ALPHA_bytes_px : 0)
      hasAlpha ||= name === 'ALPH'
      // Padded to an even length.
      at += 8 + 2 * Math.ceil(buffer.readUInt32LE(4) / 2)
    }
    return told('WebP', WEBP_LOSSLESS_bytes_px)
  } finally {
    await file.close()
  }
}
