/** Opens the one database file: refuses what is not ours, migrates, and asserts every setting that durability rests on. */
import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import Database from 'better-sqlite3'
import { type BetterSQLite3Database, drizzle } from 'drizzle-orm/better-sqlite3'
import { keepFirstChangingIn } from './changing-digests.ts'
import type { Result } from './contract.ts'
import { isDamage, isFull, noteBeside } from './damage.ts'
import { keepMissingIn } from './digests.ts'
import { continueAfter } from './ids.ts'
import * as schema from './schema.ts'
import { newestSnapshot, snapshotBefore } from './snapshot.ts'

export type Db = BetterSQLite3Database<typeof schema> & { readonly $client: Database.Database }

/** "Loom" in the file's header tells our files from others. */
export const applicationId = 0x4c6f6f6d
const leastSqlite = [3, 51, 3] as const
const ownMigrations = fileURLToPath(new URL('../../migrations/', import.meta.url))

/** It was ours and cannot be read any more: only a backup helps. */
export class DamagedDatabase extends Error {}

/** `migrationsFolder` is another one only where migrations themselves are tried. Throws `DamagedDatabase` where the file is damaged. */
export function openDatabase(file: string, migrationsFolder: string = ownMigrations): Db {
  try {
    return opened(file, migrationsFolder)
  } catch (fault) {
    if (fault instanceof Database.SqliteError && isDamage(fault))
      throw new DamagedDatabase(`The database ${file} is damaged and was left as it is: ${fault.message}.`)
    if (isFull(fault)) throw new Error(`There is no room on the disk to open ${file}. Nothing was changed: make room and start again.`)
    throw fault
  }
}

function opened(file: string, migrationsFolder: string): Db {
  const migrations = readMigrations(migrationsFolder)
  const inMemory = file === ':memory:'
  if (!inMemory && existsSync(file) && statSync(file).size > 0) refuseForeignFile(file, migrations.at(-1)?.version ?? 0)
  const client = new Database(file)
  try {
    set(client, inMemory)
    if (!inMemory) keepPresent(client, { file, migrations })
    migrate(client, migrations)
    keepFirstDigests(client)
    assertSettings(client, inMemory)
    continueAfter(lastId(client))
  } catch (fault) {
    client.close()
    throw fault
  }
  return drizzle(client, { schema }) as Db
}

/** The highest id of the tables whose order is that of their ids. */
function lastId(client: Database.Database): string {
  const tables = ['entries', 'part_revisions', 'stock_counts', 'stock_moves', 'vehicles', 'parts', 'photos', 'purchases', 'leftovers']
  const ids = tables.map((table) => client.prepare(`SELECT coalesce(max(id), '') FROM ${table}`).pluck().get() as string)
  return ids.sort().at(-1) ?? ''
}

/** Folds the log of writes into the file, so that the file alone is whole. A reader elsewhere may hold that up; then it is done later. */
export function foldLog(db: Db): void {
  if (isInMemory(db)) return
  const waits_ms = Number(db.$client.pragma('busy_timeout', { simple: true }))
  db.$client.pragma('busy_timeout = 500')
  try {
    db.$client.pragma('wal_checkpoint(TRUNCATE)')
  } finally {
    db.$client.pragma(`busy_timeout = ${waits_ms}`)
  }
}

/** Such a one is nobody else's to open. */
export function isInMemory(db: Db): boolean {
  return db.$client.name === ':memory:'
}

export function closeDatabase(db: Db): void {
  db.$client.close()
}

const changesSeen = new WeakMap<Db, number>()

/** Folds the log of writes into the file where nothing was written since it was asked last. Whether it did. */
export function foldWhenIdle(db: Db): boolean {
  const changes = Number(db.$client.prepare('SELECT total_changes()').pluck().get())
  const isIdle = changesSeen.get(db) === changes
  changesSeen.set(db, changes)
  if (!isIdle || db.$client.inTransaction || logBytes(db) === 0) return false
  return noteBeside(() => foldLog(db))
}

/** How large the log of writes beside the database is. */
export function logBytes(db: Db): number {
  return statSync(`${db.$client.name}-wal`, { throwIfNoEntry: false })?.size ?? 0
}

/** Everything in `work` is stored, or, if it is refused or throws, nothing. May be nested. */
export function inTransaction<T>(db: Db, work: () => Result<T>): Result<T> {
  let answer: Result<T> | undefined
  const undo = new Error('refused')
  try {
    db.$client
      .transaction(() => {
        answer = work()
        if (!answer.ok) throw undo
      })
      .immediate()
  } catch (fault) {
    if (fault !== undo) throw fault
  }
  if (!answer) throw new Error('a transaction ended without an answer')
  return answer
}

/** The settings in force, by name. */
export function settingsOf(client: Database.Database): Readonly<Record<string, string | number>> {
  const names = [
    'journal_mode',
    'synchronous',
    'foreign_keys',
    'trusted_schema',
    'cell_size_check',
    'busy_timeout',
    'journal_size_limit',
    'application_id',
    'user_version',
  ]
  return Object.fromEntries(names.map((name) => [name, client.pragma(name, { simple: true }) as string | number]))
}

type Migration = { readonly version: number; readonly name: string; readonly sql: string }

export function newestVersion(): number {
  return readMigrations(ownMigrations).length
}

/** An empty database as the migrations up to a version make it. */
export function migratedInMemory(version: number): Database.Database {
  const client = new Database(':memory:')
  for (const migration of readMigrations(ownMigrations).slice(0, version)) client.exec(migration.sql)
  return client
}

function readMigrations(folder: string): readonly Migration[] {
  const names = readdirSync(folder)
    .filter((name) => name.endsWith('.sql'))
    .sort()
  return names.map((name, index) => {
    const version = Number(/^(\d{4})_[a-z0-9-]+\.sql$/.exec(name)?.[1])
    if (version !== index + 1) throw new Error(`Migration ${name} should be number ${index + 1}.`)
    return { version, name, sql: readFileSync(join(folder, name), 'utf8') }
  })
}

/** Looks with a read-only connection, which neither checkpoints nor changes the file. */
function refuseForeignFile(file: string, known: number): void {
  const { id, version, tables, isOurs } = lookInto(file)
  if (id !== applicationId && isOurs) throw new DamagedDatabase(`The header of ${file} is damaged; the file was left as it is.`)
  if (id !== applicationId && !(id === 0 && version === 0 && tables === 0)) {
    throw new Error(`${file} is not a Loombook database, so it was left as it is.`)
  }
  if (version > known) {
    throw new Error(
      `${file} was written by a newer Loombook (its version is ${version}; this one knows up to ${known}). It was left as it is.${
        newestSnapshot(file) === null ? '' : ` A copy from before the upgrade is ${newestSnapshot(file)}.`
      }`,
    )
  }
}

/** `isOurs`: it holds our tables, whatever its header says. */
function lookInto(file: string): { readonly id: number; readonly version: number; readonly tables: number; readonly isOurs: boolean } {
  const client = new Database(file, { readonly: true })
  try {
    return {
      id: Number(client.pragma('application_id', { simple: true })),
      version: Number(client.pragma('user_version', { simple: true })),
      tables: Number(client.prepare('SELECT count(*) FROM sqlite_schema').pluck().get()),
      isOurs:
        client
          .prepare("SELECT count(*) FROM sqlite_schema WHERE name IN ('entries', 'entries_no_update', 'part_revisions')")
          .pluck()
          .get() === 3,
    }
  } finally {
    client.close()
  }
}

/** The build's default in WAL is NORMAL, which may lose an acknowledged save at a power cut; so FULL is said after WAL. */
function set(client: Database.Database, inMemory: boolean): void {
  client.pragma('busy_timeout = 5000')
  if (!inMemory) client.pragma('journal_mode = WAL')
  client.pragma('synchronous = FULL')
  client.pragma('foreign_keys = ON')
  client.pragma('trusted_schema = OFF')
  client.pragma('cell_size_check = ON')
  client.pragma('journal_size_limit = 16777216')
  if (process.platform === 'darwin') client.pragma('fullfsync = ON')
}

/** A file that holds something is copied before a newer version changes its tables. */
function keepPresent(client: Database.Database, given: { readonly file: string; readonly migrations: readonly Migration[] }): void {
  const at = Number(client.pragma('user_version', { simple: true }))
  const to = given.migrations.at(-1)?.version ?? 0
  if (at > 0 && at < to) snapshotBefore(client, { file: given.file, version: to, at: new Date() })
}

/** Foreign keys are off while tables are rebuilt, else dropping a table would delete the rows that point to it. */
function migrate(client: Database.Database, migrations: readonly Migration[]): void {
  const at = Number(client.pragma('user_version', { simple: true }))
  const waiting = migrations.filter((migration) => migration.version > at)
  if (waiting.length === 0) return
  client.pragma('foreign_keys = OFF')
  for (const migration of waiting) {
    client
      .transaction(() => {
        client.exec(migration.sql)
        client.pragma(`application_id = ${applicationId}`)
        client.pragma(`user_version = ${migration.version}`)
        const broken = client.pragma('foreign_key_check') as unknown[]
        if (broken.length > 0)
          throw new Error(`Migration ${migration.name} would leave ${broken.length} rows that point to nothing; it was undone.`)
      })
      .exclusive()
  }
  client.pragma('foreign_keys = ON')
}

/** The first start with digests. Never again later: making those that are missing would hide that rows came from elsewhere. */
function keepFirstDigests(client: Database.Database): void {
  if (Number(client.pragma('user_version', { simple: true })) < 2) return
  if (client.prepare('SELECT 1 FROM digests LIMIT 1').get() === undefined) keepMissingIn(client)
  keepFirstChangingIn(client)
}

/** Throws, naming it, where a setting that durability rests on is not in force. */
export function assertSettings(client: Database.Database, inMemory: boolean): void {
  const settings = settingsOf(client)
  const wanted: Record<string, string | number> = {
    journal_mode: inMemory ? 'memory' : 'wal',
    synchronous: 2,
    foreign_keys: 1,
    trusted_schema: 0,
    cell_size_check: 1,
    application_id: applicationId,
  }
  for (const [name, value] of Object.entries(wanted)) {
    if (settings[name] !== value) throw new Error(`The database setting ${name} is ${settings[name]} and must be ${value}.`)
  }
  const version = String(client.prepare('SELECT sqlite_version()').pluck().get())
  if (isOlder(version)) throw new Error(`SQLite ${version} can lose saves under load; ${leastSqlite.join('.')} or later is needed.`)
}

export function isOlder(version: string): boolean {
  const numbers = version.split('.').map(Number)
  for (const [index, least] of leastSqlite.entries()) {
    const number = numbers[index] ?? 0
    if (number !== least) return number < least
  }
  return false
}
