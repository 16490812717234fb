/** What a file is, by its first bytes and never by its name: the few kinds that are taken. */

export type PhotoKind = 'image/jpeg' | 'image/png' | 'image/webp' | 'image/avif' | 'image/heic' | 'application/pdf'

/** Kinds whose pictures can be shown. HEIC is kept as it came: nothing here decodes it. */
const SHOWN: readonly PhotoKind[] = ['image/jpeg', 'image/png', 'image/webp', 'image/avif']
const HEIC_BRANDS = ['heic', 'heix', 'heim', 'heis', 'hevc', 'hevx', 'mif1', 'msf1']

export function isShownKind(type: string): boolean {
  return (SHOWN as readonly string[]).includes(type)
}

export function isPicture(type: string): boolean {
  return type.startsWith('image/')
}

/** Null for what is none of them. `head` is the file's first 64 bytes or more. */
export function kindOfBytes(head: Buffer): PhotoKind | null {
  const text = (from: number, to: number) => head.toString('latin1', from, to)
  if (head.length < 12) return null
  if (head[0] === 0xff && head[1] === 0xd8 && head[2] === 0xff) return 'image/jpeg'
  if (head.subarray(0, 8).equals(Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]))) return 'image/png'
  if (text(0, 4) === 'RIFF' && text(8, 12) === 'WEBP') return 'image/webp'
  if (text(0, 5) === '%PDF-') return 'application/pdf'
  if (text(4, 8) !== 'ftyp') return null
  // ISO 14496-12: the major brand, a version, then the brands it is compatible with.
  const end = Math.min(head.readUInt32BE(0), head.length)
  const brands = [text(8, 12)]
  for (let at = 16; at + 4 <= end; at += 4) brands.push(text(at, at + 4))
  if (brands.includes('avif') || brands.includes('avis')) return 'image/avif'
  return brands.some((brand) => HEIC_BRANDS.includes(brand)) ? 'image/heic' : null
}
