/** Before an upgrade: the copy, the way back, and what a fault on the way leaves. */
import { spawnSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { cpSync, existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { closeDatabase, openDatabase, settingsOf } from '../../server/records/database.ts'
import { checkDatabaseFile } from '../../server/records/database-file.ts'
import { fillSearch } from '../../server/records/search-rows.ts'
import { bundled, removeBundled } from '../running/bundle.ts'

const fixtures = join(import.meta.dirname, '../fixtures')
const versions = readdirSync('migrations')
  .filter((name) => name.endsWith('.sql'))
  .map((name) => name.slice(0, 4))
const newest = Number(versions.at(-1))

let folder: string
let file: string
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'upgrade-'))
  file = join(folder, 'loombook.sqlite')
})
afterEach(() => rmSync(folder, { recursive: true }))
const digest = () => createHash('sha256').update(readFileSync(file)).digest('hex')

describe('every version that there was', () => {
  it.each(versions)('%s has a database of its own in tests/fixtures', (version) => {
    expect(existsSync(join(fixtures, version, 'loombook.sqlite'))).toBe(true)
    expect(checkDatabaseFile(join(fixtures, version, 'loombook.sqlite'))).toMatchObject({ faults: [], version: Number(version) })
  })
  it.each(versions)('R11: %s is brought up to date with all its rows, and copied first', (version) => {
    cpSync(join(fixtures, version, 'loombook.sqlite'), file)
    const before = checkDatabaseFile(file).rows
    const db = openDatabase(file)
    fillSearch(db)
    expect(settingsOf(db.$client).user_version).toBe(newest)
    closeDatabase(db)
    const after = checkDatabaseFile(file)
    expect(after.faults).toEqual([])
    for (const [table, count] of Object.entries(before))
      if (!['projections', 'search_rows', 'digests'].includes(table)) expect(after.rows[table], table).toBe(count)
    const copies = existsSync(join(folder, 'upgrades')) ? readdirSync(join(folder, 'upgrades')) : []
    expect(copies).toHaveLength(Number(version) < newest ? 1 : 0)
    for (const copy of copies)
      expect(checkDatabaseFile(join(folder, 'upgrades', copy))).toMatchObject({ faults: [], version: Number(version), rows: before })
  })
})

/** Every migration with the ends of its statements: a line that ends with a semicolon and is not inside a trigger. */
const stepsOf = (version: string) => {
  const name = readdirSync('migrations').find((one) => one.startsWith(version)) as string
  const sql = readFileSync(join('migrations', name), 'utf8')
  const ends = [...sql.matchAll(/;\n(?=\n|CREATE|ALTER|INSERT|UPDATE|DELETE|DROP|--|$)/g)].map((found) => (found.index ?? 0) + 2)
  return ends.map((end) => [name, end] as const)
}

describe('R11: killed with SIGKILL at every statement of each migration', () => {
  it.each(versions)(
    '%s leaves the old one whole, copied and read back before; the next start completes it',
    async (version) => {
      const program = await bundled('tests/running/killed-migration.ts')
      const before = String(Number(version) - 1).padStart(4, '0')
      const isFirst = version === versions[0]
      const old = isFirst ? null : checkDatabaseFile(join(fixtures, before, 'loombook.sqlite'))
      const steps = stepsOf(version)
      const sql = readdirSync('migrations')
        .filter((name) => name.startsWith(version))
        .map((name) => readFileSync(join('migrations', name), 'utf8'))
      // Each statement begins a line.
      const statements = sql.join('').match(/^(CREATE|ALTER|INSERT|UPDATE|DELETE|DROP)\b/gm)?.length ?? 0
      expect(statements).toBeGreaterThan(0)
      expect(steps.length).toBeGreaterThanOrEqual(statements)
      try {
        for (const [name, end] of steps) {
          rmSync(folder, { recursive: true, force: true })
          mkdirSync(folder)
          if (!isFirst) cpSync(join(fixtures, before, 'loombook.sqlite'), file)
          const ran = spawnSync(process.execPath, [program, file, name, String(end)], { encoding: 'utf8' })
          expect([ran.signal, ran.stdout, ran.stderr], `${name} at ${end}`).toEqual(['SIGKILL', '', ''])
          // What the next start finds: read here as it will, with the -wal beside it.
          if (old !== null) {
            const left = new Database(file)
            expect(left.pragma('user_version', { simple: true }), `${name} at ${end}`).toBe(old.version)
            left.close()
            expect(checkDatabaseFile(file), `${name} at ${end}`).toEqual(old)
            const copies = readdirSync(join(folder, 'upgrades'))
            expect(copies).toHaveLength(1)
            expect(checkDatabaseFile(join(folder, 'upgrades', copies[0] as string))).toEqual(old)
          }
          closeDatabase(openDatabase(file))
          expect(checkDatabaseFile(file), `${name} at ${end}`).toMatchObject({ faults: [], version: newest })
        }
      } finally {
        removeBundled(program)
      }
    },
    300_000,
  )
})

describe('R11: a fault at every statement of the newest migrations', () => {
  const from = '0001'
  const steps = versions.slice(1).flatMap(stepsOf)
  it(`leaves the old one whole, and the next start completes it (${steps.length} places)`, () => {
    const { rows } = checkDatabaseFile(join(fixtures, from, 'loombook.sqlite'))
    for (const [name, end] of steps) {
      rmSync(join(folder, 'upgrades'), { recursive: true, force: true })
      for (const one of ['', '-wal', '-shm']) rmSync(`${file}${one}`, { force: true })
      cpSync(join(fixtures, from, 'loombook.sqlite'), file)
      const migrations = join(folder, 'migrations')
      cpSync('migrations', migrations, { recursive: true })
      const sql = readFileSync(join(migrations, name), 'utf8')
      writeFileSync(join(migrations, name), `${sql.slice(0, end)}\nSELECT * FROM the_power_is_gone;\n${sql.slice(end)}`)
      expect(() => openDatabase(file, migrations), `${name} at ${end}`).toThrow(/the_power_is_gone/)
      const stopped = checkDatabaseFile(file)
      expect([stopped.faults, stopped.version], `${name} at ${end}`).toEqual([[], Number(name.slice(0, 4)) - 1])
      expect(stopped.rows.entries).toBe(rows.entries)
      closeDatabase(openDatabase(file))
      expect(checkDatabaseFile(file)).toMatchObject({ faults: [], version: newest })
    }
  }, 120_000)
})

describe('R12: an older program on a newer database', () => {
  it('refuses with the version and the copy from before, and leaves every byte', () => {
    cpSync(join(fixtures, '0001', 'loombook.sqlite'), file)
    closeDatabase(openDatabase(file))
    const newer = new Database(file)
    newer.pragma('user_version = 9000')
    newer.close()
    const before = digest()
    expect(() => openDatabase(file)).toThrow(/version is 9000.*A copy from before the upgrade is .*before-version-/)
    expect(digest()).toBe(before)
  })
  it.each(versions.slice(0, -1))(
    'the one that knew migrations up to %s refuses today’s, by bytes and by the time of the file',
    (version) => {
      cpSync(join(fixtures, version, 'loombook.sqlite'), file)
      closeDatabase(openDatabase(file))
      const older = join(folder, 'older')
      mkdirSync(older)
      for (const name of readdirSync('migrations')) if (name.slice(0, 4) <= version) cpSync(join('migrations', name), join(older, name))
      const before = [digest(), statSync(file).mtimeMs]
      const [copy] = readdirSync(join(folder, 'upgrades'))
      const says = `its version is ${newest}; this one knows up to ${Number(version)}`
      expect(() => openDatabase(file, older)).toThrow(says)
      expect(() => openDatabase(file, older)).toThrow(join(folder, 'upgrades', copy as string))
      expect([digest(), statSync(file).mtimeMs]).toEqual(before)
    },
  )
})

describe('no room for the copy', () => {
  it('nothing is migrated and every byte stays', () => {
    cpSync(join(fixtures, '0001', 'loombook.sqlite'), file)
    // As ours always are.
    const plain = new Database(file)
    plain.pragma('journal_mode = WAL')
    plain.close()
    writeFileSync(join(folder, 'upgrades'), 'a file where the folder should be')
    const before = digest()
    expect(() => openDatabase(file)).toThrow()
    expect(digest()).toBe(before)
  })
})
