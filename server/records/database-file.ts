/** Looks into a database file that is not in use: read-only, nothing of its own is run, and named faults are the answer. */
import { existsSync, rmSync } from 'node:fs'
import Database from 'better-sqlite3'
import { wrongChangingRows } from './changing-digests.ts'
import { applicationId, migratedInMemory, newestVersion } from './database.ts'
import { comparing } from './digests.ts'
import { atOnce, inTurns } from './turns.ts'

export type FileCheck = {
  readonly faults: readonly string[]
  readonly version: number
  readonly rows: Readonly<Record<string, number>>
}

/**
 * Whether this is a sound database of ours. Its schema is compared word for word with the one its version's migrations make before
 * anything else is asked of it, so that no trigger, view or virtual table of somebody else's ever runs.
 */
export function checkDatabaseFile(file: string): FileCheck {
  return atOnce(checking(file))
}

/** The same while pages are asked for. */
export function checkDatabaseFileInTurns(file: string): Promise<FileCheck> {
  return inTurns(checking(file))
}

function* checking(file: string): Generator<void, FileCheck> {
  let client: Database.Database | undefined
  const none = { version: 0, rows: {} }
  // A log of writes that lies beside it already is a part of it. What looking makes beside it is taken away again.
  const made = ['-wal', '-shm'].map((end) => `${file}${end}`).filter((path) => !existsSync(path))
  try {
    client = new Database(file, { readonly: true, fileMustExist: true })
    client.pragma('trusted_schema = OFF')
    client.pragma('cell_size_check = ON')
    client.pragma('mmap_size = 0')
    const foreign = foreignness(client)
    if (foreign !== null) return { ...none, faults: [foreign] }
    const version = Number(client.pragma('user_version', { simple: true }))
    const faults = yield* sounding(client)
    return { faults, version, rows: faults.length > 0 ? {} : rowCounts(client) }
  } catch (fault) {
    if (!(fault instanceof Database.SqliteError) && !(fault instanceof TypeError)) throw fault
    return { ...none, faults: [`It cannot be read as a database: ${fault.message}.`] }
  } finally {
    client?.close()
    for (const path of made) rmSync(path, { force: true })
  }
}

/** What is wrong inside, as sentences; empty where nothing is. */
export function soundness(client: Database.Database): string[] {
  return atOnce(sounding(client))
}

function* sounding(client: Database.Database): Generator<void, string[]> {
  const faults: string[] = []
  const says = client.pragma('integrity_check(20)') as { integrity_check: string }[]
  if (says[0]?.integrity_check !== 'ok') faults.push(...says.map((row) => `The database is damaged: ${row.integrity_check}.`))
  yield
  const broken = client.pragma('foreign_key_check') as { table: string }[]
  if (broken.length > 0) faults.push(`${broken.length} rows point to nothing (${[...new Set(broken.map((row) => row.table))].join(', ')}).`)
  if (Number(client.pragma('user_version', { simple: true })) < 2) return faults
  const missing = client.prepare('SELECT count(*) FROM digests').pluck().get() === 0
  for (const row of [...(missing ? [] : yield* comparing(client)), ...wrongChangingRows(client)].slice(0, 50))
    faults.push(
      row.fault === 'altered'
        ? `The row ${row.id} of ${row.table} is not as it was written.`
        : row.fault === 'missing'
          ? `The row ${row.id} of ${row.table} is gone.`
          : `Nothing vouches for the row ${row.id} of ${row.table}.`,
    )
  return faults
}

export function rowCounts(client: Database.Database): Record<string, number> {
  const names = client
    .prepare(
      "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND name NOT LIKE 'search_index%' ORDER BY name",
    )
    .pluck()
    .all() as string[]
  return Object.fromEntries(names.map((name) => [name, Number(client.prepare(`SELECT count(*) FROM "${name}"`).pluck().get())]))
}

function foreignness(client: Database.Database): string | null {
  if (client.pragma('application_id', { simple: true }) !== applicationId) return 'It is not a Loombook database.'
  const version = Number(client.pragma('user_version', { simple: true }))
  if (version > newestVersion())
    return `It was written by a newer Loombook (its version is ${version}; this one knows up to ${newestVersion()}).`
  if (version < 1) return 'It holds no version of Loombook’s tables.'
  const ours = migratedInMemory(version)
  try {
    const [wanted, found] = [schemaOf(ours), schemaOf(client)]
    const strange = [...found].filter((line) => !wanted.has(line)).concat([...wanted].filter((line) => !found.has(line)))
    return strange.length === 0 ? null : `Its tables are not those of version ${version}: ${(strange[0] as string).slice(0, 120)}`
  } finally {
    ours.close()
  }
}

/** Tables that a continuous copier keeps for itself, and SQLite's own statistics, are let be. */
function schemaOf(client: Database.Database): Set<string> {
  const rows = client.prepare('SELECT type, name, tbl_name, sql FROM sqlite_schema').raw().all() as (string | null)[][]
  return new Set(
    rows
      .filter((row) => row[0] !== 'table' || !/^(_litestream|sqlite_stat[14]$)/.test(String(row[1])))
      .map((row) => row.map(String).join(' ')),
  )
}
