/** Whether a file of a database is ours, asked without running anything that stands in it. */
import Database from 'better-sqlite3'
import { applicationId, migrationsUpTo } from './database.ts'

export type LookedInto = { readonly ok: true; readonly version: number } | { readonly ok: false; readonly says: string }

/**
 * Opens read-only with the schema distrusted, and compares: the header's id, a version that is known, and every table, index and trigger
 * with what the migrations of that version make. Only then is its content looked into.
 */
export function lookInto(path: string): LookedInto {
  let client: Database.Database
  try {
    client = new Database(path, { readonly: true, fileMustExist: true })
  } catch {
    return { ok: false, says: 'This file is not there, or is no database.' }
  }
  try {
    client.pragma('trusted_schema = OFF')
    client.pragma('cell_size_check = ON')
    const id = Number(client.pragma('application_id', { simple: true }))
    const version = Number(client.pragma('user_version', { simple: true }))
    if (id !== applicationId) return { ok: false, says: 'This is not a Loombook database.' }
    const migrations = migrationsUpTo(version)
    if (migrations === null) return { ok: false, says: `A newer Loombook wrote this (its version is ${version}); use that one.` }
    const foreign = difference(schemaOf(client), schemaMadeBy(migrations))
    if (foreign !== null) return { ok: false, says: `This database holds what Loombook does not make: ${foreign}.` }
    const integrity = client.pragma('integrity_check', { simple: true })
    if (integrity !== 'ok') return { ok: false, says: `This database is damaged: ${String(integrity).slice(0, 200)}` }
    const loose = (client.pragma('foreign_key_check') as unknown[]).length
    if (loose > 0) return { ok: false, says: `This database has ${loose} rows that point to nothing.` }
    return { ok: true, version }
  } catch (fault) {
    return { ok: false, says: `This database cannot be read: ${fault instanceof Error ? fault.message : String(fault)}` }
  } finally {
    client.close()
  }
}

function schemaMadeBy(migrations: readonly string[]): ReadonlyMap<string, string> {
  const client = new Database(':memory:')
  try {
    for (const sql of migrations) client.exec(sql)
    return schemaOf(client)
  } finally {
    client.close()
  }
}

/** Tables of a program that copies databases continuously may stand beside ours. */
function schemaOf(client: Database.Database): ReadonlyMap<string, string> {
  const rows = client
    .prepare("SELECT type || ' ' || name AS name, coalesce(sql, '') AS sql FROM sqlite_schema WHERE name NOT LIKE '\\_litestream%' ESCAPE '\\' AND name NOT LIKE 'sqlite_stat%'")
    .all() as { name: string; sql: string }[]
  return new Map(rows.map((row) => [row.name, row.sql.replace(/\s+/g, ' ')]))
}

function difference(found: ReadonlyMap<string, string>, known: ReadonlyMap<string, string>): string | null {
  for (const [name, sql] of found) if (known.get(name) !== sql) return name
  for (const name of known.keys()) if (!found.has(name)) return `no ${name}`
  return null
}
