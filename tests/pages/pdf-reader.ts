/**
 * An own reading of a PDF file, independent of the library that wrote it: objects, streams inflated by the machine's zlib, and the text of
 * each page by the fonts' ToUnicode maps (ISO 32000-1, 9.10.3). Enough for files with plain cross-references and hexadecimal strings.
 */
import { inflateSync } from 'node:zlib'

export type PdfPage = {
  readonly width_pt: number
  readonly height_pt: number
  readonly text: string
  readonly sizes_pt: readonly number[] /** the lowest line's place above the page's foot */
  readonly lowest_pt: number
}
export type Pdf = {
  readonly pages: readonly PdfPage[]
  readonly text: string
  readonly title: string
  readonly language: string
  readonly outline: readonly string[]
  readonly isMarked: boolean
  /** structure elements by their tag, counted */
  readonly tags: Readonly<Record<string, number>>
  /** fonts that are named and not embedded */
  readonly loose: number
  readonly objects: ReadonlyMap<number, { readonly head: string; readonly stream: Buffer | null }>
}

export function readPdf(bytes: Buffer): Pdf {
  const objects = objectsOf(bytes)
  const head = (reference: string | undefined) => objects.get(Number(/(\d+) 0 R/.exec(reference ?? '')?.[1]))?.head ?? ''
  const latin = bytes.toString('latin1')
  const trailer = latin.slice(latin.lastIndexOf('trailer'))
  const root = head(/\/Root (\d+ 0 R)/.exec(trailer)?.[1])
  const info = head(/\/Info (\d+ 0 R)/.exec(trailer)?.[1])
  const kids = [...(/\/Kids \[([^\]]*)\]/.exec(head(/\/Pages (\d+ 0 R)/.exec(root)?.[1]))?.[1] ?? '').matchAll(/\d+ 0 R/g)].map(
    (found) => found[0],
  )
  const pages = kids.map((kid) => pageOf(head(kid), { head, objects }))
  const heads = [...objects.values()].map((one) => one.head)
  const tags: Record<string, number> = {}
  for (const found of heads.flatMap((one) => [...(/^<<[\s\S]*\/S \/([A-Za-z0-9]+)/.exec(one) ?? [])].slice(1)))
    tags[found] = (tags[found] ?? 0) + 1
  return {
    pages,
    text: pages.map((page) => page.text).join('\n'),
    title: textIn(literalIn(info, 'Title') || head(/\/Title (\d+ 0 R)/.exec(info)?.[1]).trim()),
    language: textIn(literalIn(root, 'Lang')),
    outline: heads.flatMap((one) => (one.includes('/Dest [') ? [textIn(literalIn(one, 'Title'))] : [])),
    isMarked: heads.some((one) => /\/Marked true/.test(one)),
    tags,
    loose: heads.filter(
      (one) => one.includes('/FontDescriptor') === false && /\/Subtype \/(Type1|TrueType|CIDFontType2|CIDFontType0)\b/.test(one),
    ).length,
    objects,
  }
}

function objectsOf(bytes: Buffer): Map<number, { head: string; stream: Buffer | null }> {
  const latin = bytes.toString('latin1')
  const found = new Map<number, { head: string; stream: Buffer | null }>()
  for (const at of latin.matchAll(/(?:^|\n)(\d+) 0 obj\n/g)) {
    const from = (at.index as number) + at[0].length
    const end = latin.indexOf('endobj', from)
    const begin = latin.slice(from, end).indexOf('stream\n')
    const head = begin < 0 ? latin.slice(from, end) : latin.slice(from, from + begin)
    let stream: Buffer | null = null
    if (begin >= 0) {
      const length = Number(/\/Length (\d+)/.exec(head)?.[1] ?? 0)
      const raw = bytes.subarray(from + begin + 7, from + begin + 7 + length)
      stream = head.includes('/FlateDecode') ? inflateSync(raw) : raw
    }
    found.set(Number(at[1]), { head, stream })
  }
  return found
}

function pageOf(
  page: string,
  file: { readonly head: (reference: string | undefined) => string; readonly objects: Pdf['objects'] },
): PdfPage {
  const [, , width = '0', height = '0'] = /\/MediaBox \[([^\]]*)\]/.exec(page)?.[1]?.trim().split(' ') ?? []
  const resources = file.head(/\/Resources (\d+ 0 R)/.exec(page)?.[1]) || page
  const fonts = new Map(
    [...(/\/Font <<([\s\S]*?)>>/.exec(resources)?.[1] ?? '').matchAll(/\/(\S+) (\d+) 0 R/g)].map(
      (font): [string, ReadonlyMap<number, string>] => {
        const unicode = Number(/\/ToUnicode (\d+) 0 R/.exec(file.objects.get(Number(font[2]))?.head ?? '')?.[1])
        return [font[1] as string, unicodesOf(file.objects.get(unicode)?.stream?.toString('latin1') ?? '')]
      },
    ),
  )
  const content = file.objects.get(Number(/\/Contents (\d+) 0 R/.exec(page)?.[1]))?.stream?.toString('latin1') ?? ''
  let map: ReadonlyMap<number, string> = new Map()
  let text = ''
  let lastY = Number.NaN
  let lowest_pt = Number.POSITIVE_INFINITY
  const sizes = new Set<number>()
  for (const operator of content.matchAll(/\/(\S+) ([\d.]+) Tf|\[([^\]]*)\] TJ|1 0 0 1 ([\d.-]+) ([\d.-]+) Tm/g)) {
    if (operator[1] !== undefined) {
      map = fonts.get(operator[1]) ?? new Map()
      sizes.add(Number(operator[2]))
    } else if (operator[5] !== undefined) {
      const y = Number(operator[5])
      if (y !== lastY) text += '\n'
      lastY = y
      lowest_pt = Math.min(lowest_pt, y)
    } else
      for (const hex of (operator[3] ?? '').matchAll(/<([0-9a-f]*)>/g))
        for (const glyph of (hex[1] as string).matchAll(/.{4}/g)) text += map.get(Number.parseInt(glyph[0], 16)) ?? `{${glyph[0]}}`
  }
  return { width_pt: Number(width), height_pt: Number(height), text, sizes_pt: [...sizes], lowest_pt }
}

/** Glyph number → text, from a map's beginbfrange with lists. */
function unicodesOf(map: string): ReadonlyMap<number, string> {
  const found = new Map<number, string>()
  for (const range of map.matchAll(/<([0-9a-f]+)> <[0-9a-f]+> \[([^\]]*)\]/g)) {
    let glyph = Number.parseInt(range[1] as string, 16)
    for (const one of (range[2] as string).matchAll(/<([0-9a-f ]*)>/g)) {
      const units = [...(one[1] as string).replaceAll(' ', '').matchAll(/.{4}/g)].map((unit) => Number.parseInt(unit[0], 16))
      found.set(glyph++, String.fromCharCode(...units))
    }
  }
  return found
}

function literalIn(head: string, name: string): string {
  return new RegExp(String.raw`/${name} (\([\s\S]*?[^\\]\)|<[0-9a-f]+>)`, 'i').exec(head)?.[1] ?? ''
}

/** A text string: by bytes, or UTF-16 with its mark. */
function textIn(literal: string): string {
  const raw = literal.startsWith('<')
    ? Buffer.from(literal.slice(1, -1), 'hex')
    : Buffer.from(literal.slice(1, -1).replaceAll(/\\([()\\])/g, '$1'), 'latin1')
  return raw[0] === 0xfe && raw[1] === 0xff ? Buffer.from(raw.subarray(2)).swap16().toString('utf16le') : raw.toString('latin1')
}
