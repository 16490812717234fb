/** What the head of a JPEG says of how it is to be decoded: ITU-T T.81, annex B. */
import { type FileHandle, open } from 'node:fs/promises'

export type JpegFrame = {
  readonly width_px: number
  readonly height_px: number
  /** one for each colour: how often it is sampled across and down, beside the others */
  readonly samplings: readonly { readonly across: number; readonly down: number }[]
  readonly isProgressive: boolean
  /** several scans make the picture, so that no row of it is done before the last */
  readonly hasManyScans: boolean
}

const BLOCK_samples = 64
const COEFFICIENT_bytes = 2
/** more of them than any camera writes: 255 of 64 kB are all that a colour profile may take */
const MOST_segments = 2000

/** Null where the head is not well made: the decoder says then what is wrong. */
export async function jpegFrameOf(path: string): Promise<JpegFrame | null> {
  const file = await open(path, 'r')
  try {
    return await frameIn(file)
  } finally {
    await file.close()
  }
}

/**
 * What a decoder has to hold of all coefficients at once. libjpeg-turbo, as libjpeg before it, keeps them where a picture is progressive or
 * comes in several scans (jdmaster.c and jdapimin.c, `has_multiple_scans`; jdcoefct.c, `jinit_d_coef_controller` with a full buffer): for
 * each colour whole units of blocks, each 64 numbers of two bytes. Else it keeps some rows.
 */
export function coefficients_bytes(frame: JpegFrame): number {
  if (!frame.hasManyScans) return 0
  const across = Math.max(...frame.samplings.map((one) => one.across))
  const down = Math.max(...frame.samplings.map((one) => one.down))
  const units = Math.ceil(frame.width_px / (8 * across)) * Math.ceil(frame.height_px / (8 * down))
  const blocks = frame.samplings.reduce((sum, one) => sum + one.across * one.down, 0)
  return units * blocks * BLOCK_samples * COEFFICIENT_bytes
}

async function frameIn(file: FileHandle): Promise<JpegFrame | null> {
  let frame: Omit<JpegFrame, 'hasManyScans'> | null = null
  let at = 2
  for (let n = 0; n < MOST_segments; n++) {
    const head = await bytesAt(file, { at, count: 4 })
    if (head === null || head[0] !== 0xff) return null
    const marker = head[1] as number
    // Any number of fill bytes may stand before a marker.
    if (marker === 0xff) {
      at += 1
      continue
    }
    const length = head.readUInt16BE(2)
    if (isFrame(marker)) {
      const body = await bytesAt(file, { at: at + 4, count: length - 2 })
      frame = body && readFrame(body, marker)
      if (frame === null) return null
    }
    if (marker === START_OF_SCAN) {
      const count = (await bytesAt(file, { at: at + 4, count: 1 }))?.[0]
      return frame === null || count === undefined
        ? null
        : { ...frame, hasManyScans: frame.isProgressive || count < frame.samplings.length }
    }
    at += 2 + length
  }
  return null
}

const START_OF_SCAN = 0xda

/** SOF0 to SOF15 but for those three of that range which are tables: DHT, JPG and DAC. */
function isFrame(marker: number): boolean {
  return marker >= 0xc0 && marker <= 0xcf && ![0xc4, 0xc8, 0xcc].includes(marker)
}

function readFrame(body: Buffer, marker: number): Omit<JpegFrame, 'hasManyScans'> | null {
  const count = body[5] ?? 0
  if (count === 0 || body.length < 6 + 3 * count) return null
  const samplings = Array.from({ length: count }, (_, n) => {
    const both = body[6 + 3 * n + 1] as number
    return { across: both >> 4, down: both & 15 }
  })
  if (samplings.some(({ across, down }) => across === 0 || down === 0)) return null
  const isProgressive = [0xc2, 0xc6, 0xca, 0xce].includes(marker)
  return { width_px: body.readUInt16BE(3), height_px: body.readUInt16BE(1), samplings, isProgressive }
}

async function bytesAt(file: FileHandle, given: { readonly at: number; readonly count: number }): Promise<Buffer | null> {
  if (given.count < 0) return null
  const { buffer, bytesRead } = await file.read(Buffer.alloc(given.count), 0, given.count, given.at)
  return bytesRead === given.count ? buffer : null
}
