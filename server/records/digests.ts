/** SHA-256 of every row that never changes, kept beside it: SQLite by itself does not notice a flipped bit in a text. */
import { createHash } from 'node:crypto'
import type Database from 'better-sqlite3'
import type { Db } from './database.ts'
import { atOnce } from './turns.ts'

/** Named one by one, so that a column added later leaves the digests of older rows right. */
const columns = {
  entries:
    'id, household_id, vehicle_id, effective_on, place_id, recorded_at, recorded_by, title, text, odometer_km, cost_minor, corrects_id, correction, once_key, shown',
  parts: 'id, household_id, kind, recorded_at, recorded_by',
  part_revisions: 'id, household_id, part_id, name, v, ratings, evidence, notes, recorded_at, recorded_by',
  stock_counts: 'id, household_id, part_id, count, place, recorded_at, recorded_by',
  stock_moves: 'id, household_id, part_id, entry_id, by_count',
} as const
const changeColumns = 'entry_id, position, id, household_id, vehicle_id, kind, v, payload'

export type DigestedTable = keyof typeof columns
export const digestedTables = Object.keys(columns) as readonly DigestedTable[]
export type WrongRow = { readonly table: string; readonly id: string; readonly fault: 'altered' | 'missing' | 'without digest' }

/** Called in the transaction that wrote the row; an entry's changes are written before. */
export function keepDigest(db: Db, table: DigestedTable, id: string): void {
  const client = db.$client
  const row = client.prepare(`SELECT ${columns[table]} FROM ${table} WHERE id = ?`).raw().get(id) as readonly unknown[]
  const changes =
    table === 'entries' ? (client.prepare(`SELECT ${changeColumns} FROM changes WHERE entry_id = ?`).raw().all(id) as unknown[][]) : []
  insertInto(client).run(table, id, row[1], digestOf(table, row, changes.map(digestOfChange)))
}

/** For rows that came without one: an upgrade, an archive. Answers how many were made. */
export function keepMissingDigests(db: Db): number {
  return keepMissingIn(db.$client)
}

export function keepMissingIn(client: Database.Database): number {
  let made = 0
  client
    .transaction(() => {
      const kept = keptDigests(client)
      const insert = insertInto(client)
      for (const row of [...digestedRows(client)]) {
        if (row === null) continue
        const { table, id, householdId, sha256 } = row
        if (kept.has(`${table} ${id}`)) continue
        insert.run(table, id, householdId, sha256)
        made += 1
      }
    })
    .immediate()
  return made
}

/** Every row that is not as it was written, every row that is gone, and every row nothing is known of. */
export function wrongRows(client: Database.Database): readonly WrongRow[] {
  return atOnce(comparing(client))
}

/** The same, with a pause after each row read. */
export function* comparing(client: Database.Database): Generator<void, readonly WrongRow[]> {
  const wrong: WrongRow[] = []
  const kept = keptDigests(client)
  for (const row of digestedRows(client)) {
    yield
    if (row === null) continue
    const { table, id, sha256 } = row
    const wanted = kept.get(`${table} ${id}`)
    kept.delete(`${table} ${id}`)
    if (wanted === undefined) wrong.push({ table, id, fault: 'without digest' })
    else if (wanted !== sha256) wrong.push({ table, id, fault: 'altered' })
  }
  for (const name of kept.keys()) {
    const [table = '', id = ''] = name.split(' ')
    wrong.push({ table, id, fault: 'missing' })
  }
  return wrong
}

type Digested = { readonly table: DigestedTable; readonly id: string; readonly householdId: string; readonly sha256: string }

/** NOT INDEXED: values are read from the table itself, never from the copy an index holds. Null for a change, which goes with its entry. */
function* digestedRows(client: Database.Database): Generator<Digested | null> {
  const changes = new Map<string, Marked[]>()
  for (const row of client.prepare(`SELECT ${changeColumns} FROM changes NOT INDEXED`).raw().iterate() as Iterable<unknown[]>) {
    const entryId = String(row[0])
    changes.set(entryId, [...(changes.get(entryId) ?? []), digestOfChange(row)])
    yield null
  }
  for (const table of digestedTables) {
    const rows = client.prepare(`SELECT ${columns[table]} FROM ${table} NOT INDEXED`).raw().iterate() as Iterable<unknown[]>
    for (const row of rows) {
      const id = String(row[0])
      const own = table === 'entries' ? (changes.get(id) ?? []) : []
      if (table === 'entries') changes.delete(id)
      yield { table, id, householdId: String(row[1]), sha256: digestOf(table, row, own) }
    }
  }
}

type Marked = { readonly position: number; readonly sha256: string }

function digestOfChange(row: readonly unknown[]): Marked {
  return { position: Number(row[1]), sha256: hash(['changes', ...row]) }
}

function digestOf(table: DigestedTable, row: readonly unknown[], changes: readonly Marked[]): string {
  const inOrder = [...changes].sort((a, b) => a.position - b.position || (a.sha256 < b.sha256 ? -1 : 1))
  return hash([table, ...row, inOrder.map((change) => change.sha256)])
}

function hash(values: readonly unknown[]): string {
  return createHash('sha256').update(JSON.stringify(values)).digest('hex')
}

function keptDigests(client: Database.Database): Map<string, string> {
  const rows = client.prepare('SELECT table_name, row_id, sha256 FROM digests NOT INDEXED').raw().all() as [string, string, string][]
  return new Map(rows.map(([table, id, sha256]) => [`${table} ${id}`, sha256]))
}

function insertInto(client: Database.Database): Database.Statement {
  return client.prepare('INSERT INTO digests (table_name, row_id, household_id, sha256) VALUES (?, ?, ?, ?)')
}
