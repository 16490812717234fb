/** A WOFF 1.0 file (W3C Recommendation, 13 December 2012) as the font it wraps: its tables inflated, by the machine's own zlib. */
import { inflateSync } from 'node:zlib'

type Entry = { readonly tag: string; readonly checksum: number; readonly bytes: Buffer }

export function fontOfWoff(woff: Buffer): Buffer {
  if (woff.toString('latin1', 0, 4) !== 'wOFF') throw new Error('This is no WOFF file.')
  const count = woff.readUInt16BE(12)
  const entries = Array.from({ length: count }, (_, n) => entryAt(woff, 44 + 20 * n))
  const font = Buffer.alloc(12 + 16 * count + entries.reduce((sum, entry) => sum + padded(entry.bytes.length), 0))
  // Offset table: flavour, number of tables, and what a binary search over them needs.
  woff.copy(font, 0, 4, 8)
  const power = Math.floor(Math.log2(count))
  font.writeUInt16BE(count, 4)
  font.writeUInt16BE(2 ** power * 16, 6)
  font.writeUInt16BE(power, 8)
  font.writeUInt16BE(count * 16 - 2 ** power * 16, 10)
  let at = 12 + 16 * count
  entries.forEach((entry, n) => {
    const record = 12 + 16 * n
    font.write(entry.tag, record, 'latin1')
    font.writeUInt32BE(entry.checksum, record + 4)
    font.writeUInt32BE(at, record + 8)
    font.writeUInt32BE(entry.bytes.length, record + 12)
    entry.bytes.copy(font, at)
    at += padded(entry.bytes.length)
  })
  return font
}

function entryAt(woff: Buffer, at: number): Entry {
  const offset = woff.readUInt32BE(at + 4)
  const packed = woff.subarray(offset, offset + woff.readUInt32BE(at + 8))
  const length = woff.readUInt32BE(at + 12)
  const bytes = packed.length < length ? inflateSync(packed) : packed
  if (bytes.length !== length) throw new Error('A table of this WOFF file is not of the length it says.')
  return { tag: woff.toString('latin1', at, at + 4), checksum: woff.readUInt32BE(at + 16), bytes }
}

function padded(length: number): number {
  return Math.ceil(length / 4) * 4
}
