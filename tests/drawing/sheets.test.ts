import { expect, test } from 'vitest'
import type { PlacedPiece } from '../../server/drawing/layout.ts'
import { SHEET, sheetsOf } from '../../server/drawing/sheets.ts'

const piece = (width: number, height: number): PlacedPiece =>
  ({ id: `${width} ${height}`, sort: 'circuit', members: [], nodes: [], wires: [], width, height }) as unknown as PlacedPiece

test('whatever its size, a piece comes onto a sheet, and onto one only', () => {
  // Of these sides some, divided and multiplied again, come out a hair longer than the sheet.
  const sizes = Array.from({ length: 400 }, (_, n) => piece(900 + n * 7.3, 40 + n * 11.7))
  const sheets = sheetsOf(sizes)
  expect(sheets.every((sheet) => sheet.pieces.length > 0)).toBe(true)
  expect(sheets.flatMap((sheet) => sheet.pieces.map((one) => one.id)).sort()).toEqual(sizes.map((one) => one.id).sort())
  const longest = Math.max(...sheets.flatMap((sheet) => sheet.pieces.map((one) => one.at.x + one.width * one.scale)))
  expect(longest).toBeLessThan(SHEET.width + 1e-6)
})
