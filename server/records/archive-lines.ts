/** Reads the lines of an archive: exactly what was written, or nothing. Twice if need be, so that no table has to fit into memory. */
import { closeSync, openSync, readSync } from 'node:fs'
import { TextDecoder } from 'node:util'
import type { ArchiveTable, Row } from './archive-tables.ts'

const LONGEST_line = 20_000_000
const PIECE_bytes = 1 << 20
const DEEPEST = 40

/** Null for a line that is too long or no UTF-8; then it ends. */
export function* linesOf(path: string): Generator<string | null> {
  const handle = openSync(path, 'r')
  try {
    const decoder = new TextDecoder('utf-8', { fatal: true })
    let rest: Buffer[] = []
    let length = 0
    for (;;) {
      const piece = Buffer.allocUnsafe(PIECE_bytes)
      const chunk = piece.subarray(0, readSync(handle, piece, 0, PIECE_bytes, null))
      if (chunk.length === 0) break
      let from = 0
      for (let at = chunk.indexOf(10); at >= 0; at = chunk.indexOf(10, from)) {
        yield decoded(decoder, [...rest, chunk.subarray(from, at)])
        rest = []
        length = 0
        from = at + 1
      }
      rest.push(chunk.subarray(from))
      length += chunk.length - from
      if (length > LONGEST_line) {
        yield null
        return
      }
    }
    if (length > 0) yield decoded(decoder, rest)
  } finally {
    closeSync(handle)
  }
}

/**
 * The record of a line, or what is wrong with it. A line has to be written as JSON.stringify writes it: then a number that does not fit, a
 * key given twice, and whatever else reads differently here and elsewhere is seen, since it comes out otherwise than it went in.
 */
export function rowOf(table: ArchiveTable, line: string): Row | string {
  let value: unknown
  try {
    value = JSON.parse(line)
    if (JSON.stringify(value) !== line) return 'a number, a key or a character in it cannot be kept exactly'
  } catch {
    return 'this is not JSON, or nested too deep'
  }
  // JSON.stringify writes half a pair of surrogates and the null character as escapes; the database keeps neither as it is.
  if (/(?<!\\)(?:\\\\)*\\u(?:d[89a-f]|0000)/.test(line)) return 'a character in it cannot be kept exactly'
  if (/"__proto__":/.test(line)) return 'it holds the key __proto__'
  if (isDeeper(value, DEEPEST)) return `it is nested too deep: at most ${DEEPEST} levels`
  const read = table.row.safeParse(value)
  if (read.success) return value as Row
  const issue = read.error.issues[0]
  return `${issue?.path.join('.') || 'the record'}: ${issue?.message ?? 'not right'}`
}

/** Every record of a file that was read before and found right. */
export function* rowsOfFile(path: string): Generator<Row> {
  for (const line of linesOf(path)) if (line !== null) yield JSON.parse(line) as Row
}

function decoded(decoder: TextDecoder, pieces: readonly Buffer[]): string | null {
  try {
    return decoder.decode(pieces.length === 1 ? pieces[0] : Buffer.concat(pieces))
  } catch {
    return null
  }
}

function isDeeper(value: unknown, levels: number): boolean {
  if (typeof value !== 'object' || value === null) return false
  return levels === 0 || Object.values(value).some((inner) => isDeeper(inner, levels - 1))
}
