/**
 * The type that PDF files are set in, embedded: IBM Plex Sans, licensed under the SIL Open Font License 1.1. Its files come one for each
 * group of scripts; each character is set from the first that has it. One that none has is shown as U+FFFD, so that nothing goes in silence.
 */
import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { fontOfWoff } from './woff.ts'

export type Face = 'plain' | 'strong'
/** A piece of a line that one font file sets. */
export type Run = { readonly font: string; readonly text: string }
export type Line = { readonly runs: readonly Run[]; readonly width_pt: number }

/** What is asked of a document of pdfkit. */
type Doc = PDFKit.PDFDocument
type OpenFont = { readonly characterSet: readonly number[] }

const GROUPS = ['latin', 'latin-ext', 'greek', 'cyrillic', 'cyrillic-ext', 'vietnamese'] as const
const WEIGHTS: Readonly<Record<Face, number>> = { plain: 400, strong: 600 }
const LACKING = '\uFFFD'

const bytes = new Map<string, Buffer>()
const covered = new Map<string, ReadonlySet<number>>()

export type Type = {
  /** the text in pieces, each in a font that has all its characters */
  runs(text: string, face: Face): readonly Run[]
  width_pt(text: string, given: { readonly face: Face; readonly size_pt: number }): number
  /** words broken over lines; a word wider than a line is broken where it has to be */
  wrap(text: string, given: { readonly face: Face; readonly size_pt: number; readonly width_pt: number }): readonly Line[]
  /** sets one line with its top at y, or its baseline */
  set(line: Line, at: { readonly x_pt: number; readonly y_pt: number; readonly size_pt: number; readonly isBaseline?: true }): void
  /** whether a character had to be shown as U+FFFD */
  lacked(): boolean
}

export function typeOf(doc: Doc): Type {
  const widths = new Map<string, number>()
  let lacked = false
  const use = (font: string): void => {
    doc.font(font)
  }
  const fontOf = (character: string, face: Face): string | null => {
    const point = character.codePointAt(0) as number
    for (const group of GROUPS) {
      const name = `${group}-${WEIGHTS[face]}`
      if (coverage(doc, name, registered).has(point)) return name
    }
    return null
  }
  const registered = new Set<string>()
  const runs = (text: string, face: Face): readonly Run[] => {
    const found: { font: string; text: string }[] = []
    for (const character of printable(text)) {
      const font = fontOf(character, face)
      if (font === null) lacked = true
      const name = font ?? `latin-${WEIGHTS[face]}`
      const shown = font === null ? LACKING : character
      const last = found.at(-1)
      if (last && last.font === name) last.text += shown
      else found.push({ font: name, text: shown })
    }
    return found
  }
  const width_pt: Type['width_pt'] = (text, { face, size_pt }) => {
    const key = `${face} ${text}`
    const known = widths.get(key)
    if (known !== undefined) return known * size_pt
    let sum = 0
    for (const run of runs(text, face)) {
      use(run.font)
      doc.fontSize(1000)
      sum += doc.widthOfString(run.text) / 1000
    }
    widths.set(key, sum)
    return sum * size_pt
  }
  return {
    runs,
    width_pt,
    wrap(text, given) {
      const lines: Line[] = []
      const space_pt = width_pt(' ', given)
      const push = (words: readonly string[]): void => {
        const line = words.join(' ')
        lines.push({ runs: runs(line, given.face), width_pt: width_pt(line, given) })
      }
      for (const paragraph of text.split('\n')) {
        let words: string[] = []
        let used_pt = 0
        for (const word of paragraph.split(/[ \t]+/).flatMap((one) => broken(one, given, width_pt))) {
          const wide_pt = width_pt(word, given)
          if (words.length > 0 && used_pt + space_pt + wide_pt > given.width_pt) {
            push(words)
            words = []
            used_pt = 0
          }
          used_pt += (words.length > 0 ? space_pt : 0) + wide_pt
          words.push(word)
        }
        push(words)
      }
      return lines
    },
    set(line, { x_pt, y_pt, size_pt, isBaseline }) {
      let x = x_pt
      for (const run of line.runs) {
        use(run.font)
        doc.fontSize(size_pt)
        doc.text(run.text, x, y_pt, { lineBreak: false, ...(isBaseline ? { baseline: 'alphabetic' } : {}) })
        x += doc.widthOfString(run.text)
      }
    },
    lacked: () => lacked,
  }
}

/** A control character or half a pair has no shape: it is shown as lacking too. Line ends are met before. */
function printable(text: string): string {
  return text
    .replaceAll('\r', '')
    .replaceAll('\t', ' ')
    .replaceAll(/[\p{Cc}\p{Cs}]/gu, (one) => (one === '\n' ? one : LACKING))
}

function broken(
  word: string,
  given: { readonly face: Face; readonly size_pt: number; readonly width_pt: number },
  width_pt: Type['width_pt'],
): readonly string[] {
  if (width_pt(word, given) <= given.width_pt) return [word]
  const pieces: string[] = []
  let piece = ''
  for (const character of word) {
    if (piece !== '' && width_pt(piece + character, given) > given.width_pt) {
      pieces.push(piece)
      piece = ''
    }
    piece += character
  }
  return [...pieces, piece]
}

/** The code points a font file has; the file is registered with this document the first time it is asked for. */
function coverage(doc: Doc, name: string, registered: Set<string>): ReadonlySet<number> {
  if (!registered.has(name)) {
    doc.registerFont(name, fontFile(name))
    registered.add(name)
  }
  const known = covered.get(name)
  if (known) return known
  doc.font(name)
  // The library's own handle on the open font: it offers no other way to ask which characters there are.
  const { font } = (doc as unknown as { readonly _font: { readonly font: OpenFont } })._font
  const points = new Set(font.characterSet)
  covered.set(name, points)
  return points
}

function fontFile(name: string): Buffer {
  const known = bytes.get(name)
  if (known) return known
  const path = createRequire(import.meta.url).resolve(`@fontsource/ibm-plex-sans/files/ibm-plex-sans-${name}-normal.woff`)
  const read = fontOfWoff(readFileSync(path))
  bytes.set(name, read)
  return read
}
