/**
 * SHA-256 of rows that may change, written anew in the transaction of each change: a flipped bit in a name or a password is noticed by
 * nothing else. A row without one is let be, since a program of the owner's own may have put it there; one that reads otherwise, or is gone, is not.
 */
import { createHash } from 'node:crypto'
import type Database from 'better-sqlite3'
import { AlteredRow, noteDamage } from './damage.ts'
import type { Db } from './database.ts'
import type { WrongRow } from './digests.ts'

/** Named one by one, so that a column added later leaves what is kept right; `second_factor_step` moves with every code and is left out. */
const tables = {
  vehicles: { key: 'id', columns: 'household_id, id, name, system_voltage_v, notes, recorded_at, recorded_by' },
  people: {
    key: 'id',
    columns: 'household_id, id, name, name_folded, password_hash, recorded_at, role, disabled_at, second_factor, email, email_folded',
  },
  settings: { key: "household_id || ' ' || name", columns: 'household_id, name, value' },
} as const

export type ChangingTable = keyof typeof tables
const names = Object.keys(tables) as readonly ChangingTable[]
/** The version of the tables that brought these digests. */
const SINCE = 6

/** Called in the transaction that adds the row. One that stands in the place of a row that was lost is refused, unless it is the same. */
export function keepChangingDigest(db: Db, table: ChangingTable, id: string): void {
  demandKept(db, table, id)
  sign(db, table, id)
}

/** Changes a row, in a transaction: what is not as it was written is never vouched for anew. Throws `AlteredRow`, and nothing is changed. */
export function changeKept(db: Db, given: { readonly table: ChangingTable; readonly id: string; readonly write: () => void }): void {
  const { table, id, write } = given
  demandKept(db, table, id)
  write()
  sign(db, table, id)
}

/** Whether a row is as it was written, as far as anything vouches for it. Where it is not, that is noted as damage. */
export function isAsKept(db: Db, table: ChangingTable, id: string): boolean {
  const wanted = db.$client.prepare('SELECT sha256 FROM changing_digests WHERE table_name = ? AND row_id = ?').pluck().get(table, id)
  if (wanted === undefined || wanted === rowsOf(db.$client, table, id)[0]?.sha256) return true
  noteDamage(db, alteredWords(table, id))
  return false
}

function demandKept(db: Db, table: ChangingTable, id: string): void {
  if (!isAsKept(db, table, id)) throw new AlteredRow(alteredWords(table, id))
}

function alteredWords(table: ChangingTable, id: string): string {
  return `The row ${id} of ${table} is not as it was written.`
}

function sign(db: Db, table: ChangingTable, id: string): void {
  const row = rowsOf(db.$client, table, id)[0]
  if (row) put(db.$client, table, row)
}

/** The first start with them, never later: a row that lost its own must not get one of what it reads now. */
export function keepFirstChangingIn(client: Database.Database): void {
  if (!isKept(client) || client.prepare('SELECT 1 FROM changing_digests LIMIT 1').get() !== undefined) return
  client
    .transaction(() => {
      for (const table of names) for (const row of rowsOf(client, table)) put(client, table, row)
    })
    .immediate()
}

export function wrongChangingRows(client: Database.Database): WrongRow[] {
  if (!isKept(client)) return []
  // All of one moment: what another process writes in between would read as altered.
  return client.transaction(() => wrongIn(client))()
}

function wrongIn(client: Database.Database): WrongRow[] {
  const kept = keptIn(client)
  const wrong: WrongRow[] = []
  for (const table of names)
    for (const row of rowsOf(client, table)) {
      const wanted = kept.get(`${table} ${row.id}`)
      kept.delete(`${table} ${row.id}`)
      if (wanted !== undefined && wanted !== row.sha256) wrong.push({ table, id: row.id, fault: 'altered' })
    }
  for (const name of kept.keys()) {
    const [table = '', ...id] = name.split(' ')
    wrong.push({ table, id: id.join(' '), fault: 'missing' })
  }
  return wrong
}

type Row = { readonly id: string; readonly householdId: string; readonly sha256: string }

/** NOT INDEXED: values are read from the table itself, never from the copy an index holds. */
function rowsOf(client: Database.Database, table: ChangingTable, id?: string): readonly Row[] {
  const { key, columns } = tables[table]
  const from = `SELECT ${key}, ${columns} FROM ${table}`
  const rows = (
    id === undefined ? client.prepare(`${from} NOT INDEXED`).raw().all() : client.prepare(`${from} WHERE ${key} = ?`).raw().all(id)
  ) as readonly (readonly unknown[])[]
  return rows.map((row) => ({
    id: String(row[0]),
    householdId: String(row[1]),
    sha256: createHash('sha256')
      .update(JSON.stringify([table, ...row]))
      .digest('hex'),
  }))
}

function put(client: Database.Database, table: ChangingTable, row: Row): void {
  client
    .prepare(
      `INSERT INTO changing_digests (table_name, row_id, household_id, sha256) VALUES (?, ?, ?, ?)
       ON CONFLICT (table_name, row_id) DO UPDATE SET household_id = excluded.household_id, sha256 = excluded.sha256`,
    )
    .run(table, row.id, row.householdId, row.sha256)
}

function keptIn(client: Database.Database): Map<string, string> {
  const rows = client.prepare('SELECT table_name, row_id, sha256 FROM changing_digests NOT INDEXED').raw().all() as string[][]
  return new Map(rows.map(([table, id, sha256]) => [`${table} ${id}`, String(sha256)]))
}

function isKept(client: Database.Database): boolean {
  return Number(client.pragma('user_version', { simple: true })) >= SINCE
}
