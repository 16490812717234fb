/** Pieces put on sheets, row by row as they come, as many as a sheet holds. */
import type { PlacedPiece, Point } from './layout.ts'

/** What one sheet has room for within its frame: with the frame and title strip 1040 × 730, the sides of A4 laid across; it fits Letter as well. */
export const SHEET = { width: 1000, height: 650, columns: 8, rows: 5 }
const GAP = 22

export type Sheet = { readonly number: number; readonly pieces: readonly (PlacedPiece & { readonly at: Point; readonly scale: number })[] }

/** A piece a little too large is drawn smaller, but never smaller than this: below it words are no longer read on paper. */
export const LEAST_SCALE = 0.8

export function isTooLarge(piece: { readonly width: number; readonly height: number }): boolean {
  return scaleOf(piece) < LEAST_SCALE
}

/** In order; where the next piece does not fit, a later one that does fills the sheet. */
export function sheetsOf(pieces: readonly PlacedPiece[]): readonly Sheet[] {
  const sheets: Sheet[] = []
  let waiting = [...pieces]
  while (waiting.length > 0) {
    const taken: Taken[] = []
    for (const piece of waiting) {
      const scale = scaleOf(piece)
      // On an empty sheet whatever comes fits, scaled as it is: else nothing would ever take it.
      const at = taken.length === 0 ? { x: 0, y: 0 } : roomFor({ width: piece.width * scale, height: piece.height * scale }, taken)
      if (at) taken.push({ piece, at, scale })
      // A circuit goes to the supply's sheet only where it is the next in order.
      else if (piece.sort === 'circuit' && taken.some((one) => one.piece.sort === 'supply')) break
    }
    sheets.push({ number: sheets.length + 1, pieces: taken.map(({ piece, at, scale }) => ({ ...piece, at, scale })) })
    const isTaken = new Set(taken.map((one) => one.piece))
    waiting = waiting.filter((piece) => !isTaken.has(piece))
  }
  return sheets
}

type Taken = { readonly piece: PlacedPiece; readonly at: Point; readonly scale: number }

function scaleOf(piece: { readonly width: number; readonly height: number }): number {
  return Math.min(1, SHEET.width / piece.width, SHEET.height / piece.height)
}

/** The highest, then the leftmost place that is free; null where there is none. */
function roomFor(size: { readonly width: number; readonly height: number }, taken: readonly Taken[]): Point | null {
  const boxes = taken.map(({ piece, at, scale }) => ({
    ...at,
    right: at.x + piece.width * scale + GAP,
    bottom: at.y + piece.height * scale + GAP,
  }))
  const xs = [0, ...boxes.map((box) => box.right)].sort((a, b) => a - b)
  const ys = [0, ...boxes.map((box) => box.bottom)].sort((a, b) => a - b)
  for (const y of ys)
    for (const x of xs) {
      if (x + size.width > SHEET.width || y + size.height > SHEET.height) continue
      const isFree = boxes.every(
        (box) => x >= box.right || y >= box.bottom || x + size.width + GAP <= box.x || y + size.height + GAP <= box.y,
      )
      if (isFree) return { x, y }
    }
  return null
}

/** "2.C4": sheet, row by letter, column by number, as the frame is marked. */
export function referenceOf(sheet: number, at: Point): string {
  const column = Math.min(SHEET.columns, Math.max(1, Math.floor((at.x / SHEET.width) * SHEET.columns) + 1))
  const row = Math.min(SHEET.rows - 1, Math.max(0, Math.floor((at.y / SHEET.height) * SHEET.rows)))
  return `${sheet}.${String.fromCharCode(65 + row)}${column}`
}
