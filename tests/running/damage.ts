/**
 * Damages copies of a database file in many ways and tells what comes of each: named at the start or by the nightly look, harmless, or
 * wrong rows that nobody named.
 */
import { createHash } from 'node:crypto'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { fixedClock } from '../../server/records/clock.ts'
import { closeDatabase, type Db, openDatabase } from '../../server/records/database.ts'
import { loadDemo } from '../../server/records/demo/index.ts'
import { digestedTables } from '../../server/records/digests.ts'
import { append } from '../../server/records/journal.ts'
import { checkSanity, lookAtStart, readOnlyBecause } from '../../server/records/sanity.ts'
import { household, openBook, value } from '../records/book.ts'

export type Damaged = {
  readonly kind: string
  /** where it was named; null: nowhere */
  readonly named: 'at the start' | 'by the nightly look' | null
  /** tables whose rows read otherwise than they were written, where nothing was named */
  readonly wrong: readonly string[]
}
export type Random = () => number

/** Tables whose every row has a digest; changes count with their entries. */
export const covered: readonly string[] = [...digestedTables, 'changes', 'digests']

const clock = fixedClock('2026-11-26T12:00:00Z')

/** Mulberry32: the same seed gives the same damage. */
export function randomFrom(seed: number): Random {
  let a = seed >>> 0
  return () => {
    a = (a + 0x6d2b79f5) >>> 0
    let t = a
    t = Math.imul(t ^ (t >>> 15), t | 1)
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61)
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296
  }
}

export const kinds: readonly string[] = ['bit', 'bit in a record', 'bits', 'zeroed page', 'swapped pages', 'page of noise', 'lost tail']

/** `count` damaged copies of one database with the demonstration vehicles in it. */
export async function damageFiles(given: { readonly count: number; readonly seed: number }): Promise<readonly Damaged[]> {
  const folder = mkdtempSync(join(tmpdir(), 'damage-'))
  try {
    const base = join(folder, 'base.sqlite')
    const db = openDatabase(base)
    value(loadDemo(db, clock, household(db, clock, 'Robin')))
    closeDatabase(db)
    const bytes = readFileSync(base)
    const page = bytes.readUInt16BE(16) === 1 ? 65536 : bytes.readUInt16BE(16)
    const right = rowsOf(base)
    const random = randomFrom(given.seed)
    const spots = spotsOf(base, bytes)
    const found: Damaged[] = []
    for (let n = 0; n < given.count; n += 1) {
      const kind = kinds[n % kinds.length] as string
      const file = join(folder, 'loombook.sqlite')
      for (const end of ['', '-wal', '-shm']) rmSync(`${file}${end}`, { force: true })
      writeFileSync(file, damaged(bytes, { kind, page, random, spots }))
      found.push({ kind, ...(await whatComesOf(file, folder, right)) })
    }
    return found
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

export type Wal = { readonly kind: string; readonly commitsKept: number | null; readonly commits: number; readonly sound: boolean }

/** `count` copies of a database whose newest commits stand in the -wal alone, with that -wal damaged. */
export function damageWals(given: { readonly count: number; readonly seed: number }): readonly Wal[] {
  const folder = mkdtempSync(join(tmpdir(), 'damage-'))
  try {
    const book = openBook(join(folder, 'base.sqlite'))
    book.db.$client.pragma('wal_checkpoint(TRUNCATE)')
    book.db.$client.pragma('wal_autocheckpoint = 0')
    const states = [rowsOf(join(folder, 'base.sqlite'))]
    for (let n = 0; n < 12; n += 1) {
      value(append(book.db, book.clock, book.actor, book.entry('2026-02-01', [{ kind: 'noted', text: `Number ${n} `.repeat(20) }])))
      states.push(rowsOf(join(folder, 'base.sqlite')))
    }
    const [bytes, wal] = [readFileSync(join(folder, 'base.sqlite')), readFileSync(join(folder, 'base.sqlite-wal'))]
    closeDatabase(book.db)
    const random = randomFrom(given.seed)
    const found: Wal[] = []
    for (let n = 0; n < given.count; n += 1) {
      const kind = ['bit', 'bits', 'zeroed page', 'page of noise', 'lost tail'][n % 5] as string
      const file = join(folder, 'loombook.sqlite')
      for (const end of ['-shm']) rmSync(`${file}${end}`, { force: true })
      writeFileSync(file, bytes)
      writeFileSync(`${file}-wal`, damaged(wal, { kind, page: 4096, random, spots: [] }))
      const db = openDatabase(file)
      const sound = db.$client.pragma('integrity_check', { simple: true }) === 'ok'
      closeDatabase(db)
      const rows = rowsOf(file)
      const at = states.findLastIndex((state) => differing(state, rows).length === 0)
      found.push({ kind, commitsKept: at < 0 ? null : at, commits: states.length - 1, sound })
    }
    return found
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

/** What the program makes of it: a start, then the nightly look, then every row beside what was written. */
async function whatComesOf(file: string, folder: string, right: Rows): Promise<Omit<Damaged, 'kind'>> {
  let db: Db
  try {
    db = openDatabase(file)
  } catch {
    return { named: 'at the start', wrong: [] }
  }
  try {
    lookAtStart(db, clock)
    if (readOnlyBecause(db) !== null) return { named: 'at the start', wrong: [] }
    if ((await checkSanity({ db, clock, data: folder })).records.length > 0) return { named: 'by the nightly look', wrong: [] }
  } finally {
    closeDatabase(db)
  }
  return { named: null, wrong: differing(right, rowsOf(file)) }
}

/** Where in the file the words of entries, changes and parts stand: in their own rows, and wherever else they are kept. */
function spotsOf(file: string, bytes: Buffer): readonly number[] {
  const db = new Database(file, { readonly: true })
  const words = db
    .prepare(
      'SELECT title FROM entries UNION SELECT payload FROM changes UNION SELECT ratings FROM part_revisions UNION SELECT name FROM part_revisions',
    )
    .pluck()
    .all() as string[]
  db.close()
  return words.flatMap((word) => {
    const start = Buffer.from(word).subarray(0, 40)
    const at: number[] = []
    for (let spot = bytes.indexOf(start); spot >= 0; spot = bytes.indexOf(start, spot + 1)) at.push(spot + (spot % start.length))
    return at
  })
}

function damaged(
  bytes: Buffer,
  given: { readonly kind: string; readonly page: number; readonly random: Random; readonly spots: readonly number[] },
): Buffer {
  const { kind, page, random, spots } = given
  const copy = Buffer.from(bytes)
  const pages = Math.floor(copy.length / page)
  const at = () => Math.floor(random() * pages) * page
  const flip = () => {
    const spot = Math.floor(random() * copy.length)
    copy[spot] = (copy[spot] as number) ^ (1 << Math.floor(random() * 8))
  }
  switch (kind) {
    case 'bit':
      flip()
      return copy
    case 'bit in a record': {
      const spot = spots[Math.floor(random() * spots.length)] as number
      copy[spot] = (copy[spot] as number) ^ (1 << Math.floor(random() * 8))
      return copy
    }
    case 'bits':
      for (let n = 0; n < 16; n += 1) flip()
      return copy
    case 'zeroed page': {
      const from = at()
      return copy.fill(0, from, from + page)
    }
    case 'swapped pages': {
      const [one, other] = [at(), at()]
      copy.set(bytes.subarray(other, other + page), one)
      copy.set(bytes.subarray(one, one + page), other)
      return copy
    }
    case 'page of noise': {
      const from = at()
      for (let spot = from; spot < Math.min(from + page, copy.length); spot += 1) copy[spot] = Math.floor(random() * 256)
      return copy
    }
    default:
      return copy.subarray(0, Math.floor(random() * copy.length))
  }
}

type Rows = ReadonlyMap<string, string>

/** A digest of what each table says, in the order of its rows' ids; the search index, which is made from rows, is left out. */
function rowsOf(file: string): Rows {
  const db = new Database(file, { readonly: true })
  try {
    const names = db
      .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND name NOT LIKE 'search_index%'")
      .pluck()
      .all() as string[]
    return new Map(names.map((name) => [name, digestOf(db, name)]))
  } finally {
    db.close()
  }
}

function digestOf(db: Database.Database, table: string): string {
  try {
    const rows = db.prepare(`SELECT * FROM "${table}" NOT INDEXED`).raw().all() as unknown[][]
    return createHash('sha256')
      .update(
        rows
          .map((row) => JSON.stringify(row))
          .sort()
          .join('\n'),
      )
      .digest('hex')
  } catch (fault) {
    // Asked for, it answers with a fault: that is no wrong row.
    return `fault: ${(fault as Error).message}`
  }
}

function differing(right: Rows, now: Rows): readonly string[] {
  return [...right].filter(([table, digest]) => now.get(table) !== digest && !now.get(table)?.startsWith('fault')).map(([table]) => table)
}
