/**
 * An own reading of a QR code's modules by ISO/IEC 18004:2015, independent of the library that made it: format information (BCH, 7.9),
 * mask (7.8.2), codewords in their zigzag (7.7.3), blocks (table 9, level M) and their Reed–Solomon check (7.5), then the modes of 7.4.
 */

/** Level M, versions 1 to 10 (ISO/IEC 18004 table 9, memory): check codewords of a block, then blocks by how many data codewords each holds. */
const LEVEL_M: readonly (readonly [number, readonly (readonly [count: number, data: number])[]])[] = [
  [10, [[1, 16]]],
  [16, [[1, 28]]],
  [26, [[1, 44]]],
  [18, [[2, 32]]],
  [24, [[2, 43]]],
  [16, [[4, 27]]],
  [18, [[4, 31]]],
  [
    22,
    [
      [2, 38],
      [2, 39],
    ],
  ],
  [
    22,
    [
      [3, 36],
      [2, 37],
    ],
  ],
  [
    26,
    [
      [4, 43],
      [1, 44],
    ],
  ],
]
/** Centres of the alignment patterns (table E.1, memory). */
const ALIGNED: readonly (readonly number[])[] = [
  [],
  [6, 18],
  [6, 22],
  [6, 26],
  [6, 30],
  [6, 34],
  [6, 22, 38],
  [6, 24, 42],
  [6, 26, 46],
  [6, 28, 50],
]
const MASKS: readonly ((row: number, column: number) => boolean)[] = [
  (i, j) => (i + j) % 2 === 0,
  (i) => i % 2 === 0,
  (_, j) => j % 3 === 0,
  (i, j) => (i + j) % 3 === 0,
  (i, j) => (Math.floor(i / 2) + Math.floor(j / 3)) % 2 === 0,
  (i, j) => ((i * j) % 2) + ((i * j) % 3) === 0,
  (i, j) => (((i * j) % 2) + ((i * j) % 3)) % 2 === 0,
  (i, j) => (((i + j) % 2) + ((i * j) % 3)) % 2 === 0,
]
const ALPHANUMERIC = '0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:'

/** The modules of a path of rectangles one high: `M x y h n v1h-n z`, with a quiet zone of four. */
export function modulesOf(path: string, size: number): readonly (readonly boolean[])[] {
  const rows = Array.from({ length: size - 8 }, () => new Array<boolean>(size - 8).fill(false))
  for (const [, x, y, run] of path.matchAll(/M(\d+) (\d+)h(\d+)v1h-\d+z/g))
    for (let n = 0; n < Number(run); n++) (rows[Number(y) - 4] as boolean[])[Number(x) - 4 + n] = true
  return rows
}

export function readQr(modules: readonly (readonly boolean[])[]): string {
  const size = modules.length
  const version = (size - 17) / 4
  const dark = (row: number, column: number) => (modules[row] as readonly boolean[])[column] === true
  finders(dark, size)
  const format = formatOf(dark)
  // Level M is 00.
  if (format >> 3 !== 0) throw new Error(`level ${format >> 3}, not M`)
  const mask = MASKS[format & 7] as (row: number, column: number) => boolean
  const bits: number[] = []
  let up = true
  for (let right = size - 1; right > 0; right -= 2) {
    if (right === 6) right--
    for (let n = 0; n < size; n++) {
      const row = up ? size - 1 - n : n
      for (const column of [right, right - 1])
        if (!isFunction(row, column, { size, version })) bits.push(dark(row, column) !== mask(row, column) ? 1 : 0)
    }
    up = !up
  }
  const codewords = Array.from({ length: Math.floor(bits.length / 8) }, (_, n) => Number.parseInt(bits.slice(8 * n, 8 * n + 8).join(''), 2))
  return decoded(dataOf(codewords, version), version)
}

function finders(dark: (row: number, column: number) => boolean, size: number): void {
  for (const [top, left] of [
    [0, 0],
    [0, size - 7],
    [size - 7, 0],
  ] as const)
    for (let row = 0; row < 7; row++)
      for (let column = 0; column < 7; column++) {
        const ring = Math.max(Math.abs(row - 3), Math.abs(column - 3))
        if (dark(top + row, left + column) !== (ring !== 2)) throw new Error('no finder pattern')
      }
}

/** Five bits of level and mask; the ten after them have to be their BCH check. */
function formatOf(dark: (row: number, column: number) => boolean): number {
  const places = [
    [8, 0],
    [8, 1],
    [8, 2],
    [8, 3],
    [8, 4],
    [8, 5],
    [8, 7],
    [8, 8],
    [7, 8],
    [5, 8],
    [4, 8],
    [3, 8],
    [2, 8],
    [1, 8],
    [0, 8],
  ] as const
  const read = places.reduce((sum, [row, column]) => (sum << 1) | (dark(row, column) ? 1 : 0), 0) ^ 0b101010000010010
  let rest = read
  for (let bit = 14; bit >= 10; bit--) if (rest & (1 << bit)) rest ^= 0b10100110111 << (bit - 10)
  if (rest !== 0) throw new Error('the format information does not check')
  return read >> 10
}

function isFunction(row: number, column: number, { size, version }: { readonly size: number; readonly version: number }): boolean {
  if (row === 6 || column === 6) return true
  if ((row < 9 && column < 9) || (row < 9 && column >= size - 8) || (row >= size - 8 && column < 9)) return true
  if (version >= 7 && ((row < 6 && column >= size - 11) || (column < 6 && row >= size - 11))) return true
  const centres = ALIGNED[version - 1] as readonly number[]
  const last = centres.at(-1)
  return centres.some((a) =>
    centres.some((b) => {
      if ((a === 6 && b === 6) || (a === 6 && b === last) || (a === last && b === 6)) return false
      return Math.abs(row - a) <= 2 && Math.abs(column - b) <= 2
    }),
  )
}

function dataOf(codewords: readonly number[], version: number): readonly number[] {
  const [check, groups] = LEVEL_M[version - 1] as (typeof LEVEL_M)[number]
  const blocks = groups.flatMap(([count, data]) => Array.from({ length: count }, () => ({ data, words: [] as number[] })))
  let at = 0
  const longest = Math.max(...blocks.map((block) => block.data))
  for (let n = 0; n < longest; n++) for (const block of blocks) if (n < block.data) block.words.push(codewords[at++] as number)
  for (let n = 0; n < check; n++) for (const block of blocks) block.words.push(codewords[at++] as number)
  for (const { words } of blocks) syndromes(words, check)
  return blocks.flatMap((block) => block.words.slice(0, block.data))
}

/** A whole block is a multiple of the generator: zero at each of its roots in GF(256) over x⁸+x⁴+x³+x²+1. */
function syndromes(words: readonly number[], check: number): void {
  let root = 1
  for (let n = 0; n < check; n++) {
    let sum = 0
    for (const word of words) sum = times(sum, root) ^ word
    if (sum !== 0) throw new Error('a block does not check')
    root = times(root, 2)
  }
}

function times(a: number, b: number): number {
  let product = 0
  for (let bit = 7; bit >= 0; bit--) {
    product = (product << 1) ^ (product & 0x80 ? 0x11d : 0)
    if (b & (1 << bit)) product ^= a
  }
  return product & 0xff
}

function decoded(data: readonly number[], version: number): string {
  const bits = data.map((word) => word.toString(2).padStart(8, '0')).join('')
  let at = 0
  const take = (count: number) => {
    const value = Number.parseInt(bits.slice(at, at + count) || '0', 2)
    at += count
    return value
  }
  const bytes: number[] = []
  const long = version >= 10
  for (let mode = take(4); mode !== 0 && at < bits.length; mode = take(4)) {
    if (mode === 4) for (let count = take(long ? 16 : 8); count > 0; count--) bytes.push(take(8))
    else if (mode === 2) {
      let count = take(long ? 11 : 9)
      for (; count > 1; count -= 2) {
        const pair = take(11)
        bytes.push(...Buffer.from((ALPHANUMERIC[Math.floor(pair / 45)] as string) + (ALPHANUMERIC[pair % 45] as string)))
      }
      if (count === 1) bytes.push(...Buffer.from(ALPHANUMERIC[take(6)] as string))
    } else if (mode === 1) {
      let count = take(long ? 12 : 10)
      for (; count > 0; count -= Math.min(3, count)) {
        const digits = Math.min(3, count)
        bytes.push(...Buffer.from(String(take([0, 4, 7, 10][digits] as number)).padStart(digits, '0')))
      }
    } else throw new Error(`mode ${mode}`)
  }
  return Buffer.from(bytes).toString('utf8')
}
