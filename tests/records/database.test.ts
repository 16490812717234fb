import { createHash } from 'node:crypto'
import { cpSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { is } from 'drizzle-orm'
import { getTableConfig, SQLiteTable } from 'drizzle-orm/sqlite-core'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import {
  applicationId,
  assertSettings,
  closeDatabase,
  foldWhenIdle,
  isOlder,
  logBytes,
  openDatabase,
  settingsOf,
} from '../../server/records/database.ts'
import * as schema from '../../server/records/schema.ts'

let folder: string
let file: string
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'records-'))
  file = join(folder, 'book.db')
})
afterEach(() => rmSync(folder, { recursive: true }))

const digest = (): string => createHash('sha256').update(readFileSync(file)).digest('hex')

describe('opening (R3)', () => {
  it('has every setting in force, on a new file, after reopening and on a second connection', () => {
    const wanted = {
      journal_mode: 'wal',
      synchronous: 2,
      foreign_keys: 1,
      trusted_schema: 0,
      cell_size_check: 1,
      busy_timeout: 5000,
      journal_size_limit: 16777216,
      application_id: applicationId,
    }
    const first = openDatabase(file)
    expect(settingsOf(first.$client)).toMatchObject(wanted)
    closeDatabase(first)
    const again = openDatabase(file)
    const beside = openDatabase(file)
    expect(settingsOf(again.$client)).toMatchObject(wanted)
    expect(settingsOf(beside.$client)).toMatchObject(wanted)
    closeDatabase(beside)
    closeDatabase(again)
  })

  it('asks for what this build would not give by itself', () => {
    closeDatabase(openDatabase(file))
    const plain = new Database(file)
    expect(plain.pragma('synchronous', { simple: true })).toBe(1)
    plain.close()
  })

  it.each([
    ['journal_mode = DELETE', /journal_mode is delete and must be wal/],
    ['synchronous = NORMAL', /synchronous is 1 and must be 2/],
    ['synchronous = OFF', /synchronous is 0 and must be 2/],
    ['foreign_keys = OFF', /foreign_keys is 0 and must be 1/],
    ['trusted_schema = ON', /trusted_schema is 1 and must be 0/],
    ['cell_size_check = OFF', /cell_size_check is 0 and must be 1/],
    ['application_id = 7', /application_id is 7 and must be/],
  ])('does not start with %s', (setting, says) => {
    const db = openDatabase(file)
    expect(() => assertSettings(db.$client, false)).not.toThrow()
    db.$client.pragma(setting)
    expect(() => assertSettings(db.$client, false)).toThrow(says)
    closeDatabase(db)
  })

  it('refuses a newer file and leaves every byte of it', () => {
    closeDatabase(openDatabase(file))
    const newer = new Database(file)
    newer.pragma('user_version = 9000')
    newer.close()
    const before = digest()
    expect(() => openDatabase(file)).toThrow(/newer Loombook/)
    expect(digest()).toBe(before)
  })

  it.each([
    ['another application id', (db: Database.Database) => db.pragma('application_id = 7')],
    ['tables and no id', (db: Database.Database) => db.exec('CREATE TABLE other (a)')],
  ])('refuses a foreign file: %s', (_name, make) => {
    const other = new Database(file)
    make(other)
    other.close()
    const before = digest()
    expect(() => openDatabase(file)).toThrow(/not a Loombook database/)
    expect(digest()).toBe(before)
  })

  it.each([
    ['3.51.2', true],
    ['3.51.3', false],
    ['3.53.2', false],
    ['3.9.9', true],
    ['4.0.0', false],
  ])('SQLite %s is too old: %s', (version, old) => expect(isOlder(version)).toBe(old))
})

it('the log of writes is folded into the file once nothing is written any more, and not before (R15)', () => {
  const db = openDatabase(file)
  expect(logBytes(db)).toBeGreaterThan(0)
  expect(foldWhenIdle(db)).toBe(false)
  db.$client.prepare('INSERT INTO households VALUES (?, ?)').run('a'.repeat(36), 'x')
  expect([foldWhenIdle(db), logBytes(db) > 0]).toEqual([false, true])
  expect([foldWhenIdle(db), logBytes(db)]).toEqual([true, 0])
  expect(foldWhenIdle(db)).toBe(false)
  closeDatabase(db)
})

describe('migrating', () => {
  const newest = readdirSync('migrations').filter((name) => name.endsWith('.sql')).length
  const named = (version: number, name: string): string => `${String(version).padStart(4, '0')}_${name}.sql`
  const next = (sql: string): string => {
    const migrations = join(folder, 'migrations')
    cpSync('migrations', migrations, { recursive: true })
    writeFileSync(join(migrations, named(newest + 1, 'next')), sql)
    return migrations
  }
  const filled = (): void => {
    const db = openDatabase(file)
    const id = (letter: string): string => letter.repeat(36)
    db.$client.prepare('INSERT INTO households VALUES (?, ?)').run(id('a'), 'x')
    db.$client
      .prepare('INSERT INTO people (id, household_id, name, name_folded, password_hash, recorded_at) VALUES (?, ?, ?, ?, ?, ?)')
      .run(id('b'), id('a'), 'Robin', 'robin', 'scrypt$none', 'x')
    db.$client
      .prepare('INSERT INTO sessions (token_hash, household_id, person_id, form_secret, started_at, expires_at) VALUES (?, ?, ?, ?, ?, ?)')
      .run('c'.repeat(64), id('a'), id('b'), 'd'.repeat(43), 'x', 'x')
    closeDatabase(db)
  }
  const rebuild = `CREATE TABLE new_people (id TEXT NOT NULL PRIMARY KEY, household_id TEXT NOT NULL REFERENCES households (id), name TEXT NOT NULL,
    name_folded TEXT NOT NULL, password_hash TEXT NOT NULL, recorded_at TEXT NOT NULL, role TEXT, disabled_at TEXT, second_factor TEXT,
    second_factor_step INTEGER, email TEXT, email_folded TEXT, note TEXT) STRICT;
    INSERT INTO new_people SELECT *, NULL FROM people; DROP TABLE people; ALTER TABLE new_people RENAME TO people;`

  it('rebuilds a table without touching the rows that point to it, and foreign keys are on again', () => {
    filled()
    const db = openDatabase(file, next(rebuild))
    expect(db.$client.prepare('SELECT count(*) FROM sessions JOIN people ON people.id = person_id').pluck().get()).toBe(1)
    expect(settingsOf(db.$client)).toMatchObject({ user_version: newest + 1, foreign_keys: 1 })
    closeDatabase(db)
  })

  it.each([
    ['fails half way', 'CREATE TABLE half (id TEXT) STRICT; SELECT * FROM nowhere;', /no such table/],
    ['leaves rows that point to nothing', 'DELETE FROM people;', /point to nothing/],
  ])('a migration that %s is undone whole', (_name, sql, says) => {
    filled()
    expect(() => openDatabase(file, next(sql))).toThrow(says)
    const db = openDatabase(file)
    expect(settingsOf(db.$client).user_version).toBe(newest)
    expect(db.$client.prepare('SELECT count(*) FROM people').pluck().get()).toBe(1)
    closeDatabase(db)
  })

  it('numbers that do not follow one another are refused', () => {
    const migrations = next('SELECT 1;')
    writeFileSync(join(migrations, named(newest + 3, 'gap')), 'SELECT 1;')
    expect(() => openDatabase(file, migrations)).toThrow(`should be number ${newest + 2}`)
  })
})

describe('the migrated schema', () => {
  const tables = Object.values(schema).flatMap((value) => (is(value, SQLiteTable) ? [getTableConfig(value)] : []))

  it('has exactly the tables described, all STRICT', () => {
    const db = openDatabase(file)
    const found = db.$client
      .prepare(
        "SELECT name, strict FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name",
      )
      .all()
    expect(found).toEqual(tables.map((table) => ({ name: table.name, strict: 1 })).sort((a, b) => (a.name < b.name ? -1 : 1)))
    closeDatabase(db)
  })

  it.each(tables.map((table) => [table.name, table] as const))('%s is as described', (name, table) => {
    const db = openDatabase(file)
    const rows = <T>(sql: string, ...given: unknown[]): T[] => db.$client.prepare(sql).all(...given) as T[]
    const columns = rows<{ name: string; type: string; notnull: number; pk: number }>(
      'SELECT name, type, "notnull", pk FROM pragma_table_info(?)',
      name,
    )
    const keyed = new Set(
      [...table.columns.filter((column) => column.primary), ...table.primaryKeys.flatMap((key) => key.columns)].map(
        (column) => column.name,
      ),
    )
    expect(
      columns.map((column) => ({ name: column.name, type: column.type.toLowerCase(), notNull: column.notnull === 1, key: column.pk > 0 })),
    ).toEqual(
      table.columns.map((column) => ({
        name: column.name,
        type: column.getSQLType(),
        notNull: column.notNull,
        key: keyed.has(column.name),
      })),
    )
    const indexes = rows<{ name: string; unique: number }>(
      'SELECT name, "unique" FROM pragma_index_list(?) WHERE origin = \'c\'',
      name,
    ).map((index) => ({
      name: index.name,
      unique: index.unique === 1,
      columns: rows<{ name: string }>('SELECT name FROM pragma_index_info(?) ORDER BY seqno', index.name).map((column) => column.name),
    }))
    const byName = (a: { name: string }, b: { name: string }): number => (a.name < b.name ? -1 : 1)
    expect(indexes.sort(byName)).toEqual(
      table.indexes
        .map(({ config }) => ({
          name: config.name,
          unique: config.unique,
          columns: config.columns.map((column) => (column as { name: string }).name),
        }))
        .sort(byName),
    )
    const keys = rows<{ from: string; table: string; to: string }>('SELECT "from", "table", "to" FROM pragma_foreign_key_list(?)', name)
    const described = table.foreignKeys.map((key) => {
      const reference = key.reference()
      return { from: reference.columns[0]?.name, table: getTableConfig(reference.foreignTable).name, to: reference.foreignColumns[0]?.name }
    })
    const byFrom = (a: { from?: string | undefined }, b: { from?: string | undefined }): number =>
      (a.from ?? '') < (b.from ?? '') ? -1 : 1
    expect(keys.sort(byFrom)).toEqual(described.sort(byFrom))
    if (!['households', 'jobs'].includes(name)) expect(columns.some((column) => column.name === 'household_id')).toBe(true)
    closeDatabase(db)
  })

  it('refuses a value of the wrong type and a row that points to nothing', () => {
    const db = openDatabase(file)
    const household = '0'.repeat(36)
    db.$client.prepare('INSERT INTO households VALUES (?, ?)').run(household, 'x')
    const insert = db.$client.prepare('INSERT INTO vehicles VALUES (?, ?, ?, ?, ?, ?, ?)')
    expect(() => insert.run('1'.repeat(36), household, 'V', 'twelve', '', 'x', 'nobody')).toThrow(/cannot store TEXT value in REAL/)
    expect(() => insert.run('1'.repeat(36), household, 'V', 12, '', 'x', 'nobody')).toThrow(/FOREIGN KEY/)
    closeDatabase(db)
  })
})
