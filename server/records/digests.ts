/**
 * SHA-256 of rows that never change, written with them. SQLite does not notice a flipped bit in a text; these do. An entry's digest covers
 * its changes. A digest made later than its row (after an upgrade, or for what came in with an archive) vouches from then on only.
 */
import { createHash } from 'node:crypto'
import type Database from 'better-sqlite3'
import type { Db } from './database.ts'

const COVERED = ['entries', 'parts', 'part_revisions', 'stock_counts', 'stock_moves'] as const
export type Covered = (typeof COVERED)[number]
export type WrongRow = { readonly table: Covered; readonly id: string; readonly what: 'changed' | 'gone' | 'without a digest' }

type Row = Readonly<Record<string, string | number | null>>

/** Called in the transaction that writes the row, once it is whole. */
export function keepDigest(db: Db, table: Covered, id: string): void {
  const row = db.$client.prepare(`SELECT * FROM ${table} WHERE id = ?`).get(id) as Row | undefined
  if (!row) throw new Error(`no row ${id} in ${table}`)
  db.$client
    .prepare('INSERT INTO digests (table_name, row_id, household_id, sha256) VALUES (?, ?, ?, ?)')
    .run(table, id, row.household_id, digestOf(db.$client, table, row))
}

/** Makes those that are missing. Answers how many. */
export function keepMissingDigests(db: Db): number {
  let made = 0
  db.$client.transaction(() => {
    for (const table of COVERED) {
      const missing = `SELECT id FROM ${table} WHERE NOT EXISTS (SELECT 1 FROM digests WHERE table_name = '${table}' AND row_id = ${table}.id)`
      for (const id of db.$client.prepare(missing).pluck().all() as string[]) {
        keepDigest(db, table, id)
        made++
      }
    }
  })()
  return made
}

/** Every row whose digest does not fit, that has none, or that is gone though its digest is there. Works on any connection, a backup's too. */
export function wrongRows(client: Database.Database): readonly WrongRow[] {
  const wrong: WrongRow[] = []
  for (const table of COVERED) {
    const kept = new Map(
      (client.prepare('SELECT row_id, sha256 FROM digests WHERE table_name = ?').all(table) as { row_id: string; sha256: string }[]).map((row) => [
        row.row_id,
        row.sha256,
      ]),
    )
    const changes = table === 'entries' ? changesByEntry(client) : null
    for (const row of client.prepare(`SELECT * FROM ${table}`).iterate() as IterableIterator<Row>) {
      const id = String(row.id)
      const sha256 = kept.get(id)
      kept.delete(id)
      if (sha256 === undefined) wrong.push({ table, id, what: 'without a digest' })
      else if (sha256 !== sha([row, changes?.get(id) ?? null])) wrong.push({ table, id, what: 'changed' })
    }
    for (const id of kept.keys()) wrong.push({ table, id, what: 'gone' })
  }
  return wrong
}

function digestOf(client: Database.Database, table: Covered, row: Row): string {
  if (table !== 'entries') return sha([row, null])
  const changes = client.prepare('SELECT * FROM changes WHERE entry_id = ? ORDER BY position').all(row.id)
  return sha([row, changes.length === 0 ? null : changes])
}

function changesByEntry(client: Database.Database): ReadonlyMap<string, Row[]> {
  const found = new Map<string, Row[]>()
  for (const row of client.prepare('SELECT * FROM changes ORDER BY entry_id, position').iterate() as IterableIterator<Row>) {
    const id = String(row.entry_id)
    const list = found.get(id)
    if (list) list.push(row)
    else found.set(id, [row])
  }
  return found
}

/** Columns by name, so that a column added later, empty, is seen as what it is: another row. */
function sha(value: unknown): string {
  return createHash('sha256').update(JSON.stringify(value)).digest('hex')
}
