import { createHash } from 'node:crypto'
import { copyFileSync, existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import Database from 'better-sqlite3'
import { afterEach, describe, expect, it } from 'vitest'
import { makeBackup } from '../../server/records/backup.ts'
import { closeDatabase, newestVersion, openDatabase } from '../../server/records/database.ts'
import { checkDatabaseFile } from '../../server/records/database-file.ts'
import { wrongRows } from '../../server/records/digests.ts'
import { type Files, realFiles } from '../../server/records/files.ts'
import { append } from '../../server/records/journal.ts'
import { photoName } from '../../server/records/photo-path.ts'
import { finishRestore, restoreBackup, restorePhoto, tryBackup } from '../../server/records/restore.ts'
import { checkSanity } from '../../server/records/sanity.ts'
import { fillSearch } from '../../server/records/search-rows.ts'
import { bookOnDisk } from './backup-book.ts'
import { rowCounts, value } from './book.ts'

const folders: string[] = []
afterEach(() => {
  for (const folder of folders.splice(0)) rmSync(folder, { recursive: true, force: true })
})
const book = () => {
  const one = bookOnDisk()
  folders.push(one.data)
  return one
}
const empty = () => {
  const folder = mkdtempSync(join(tmpdir(), 'restore-'))
  folders.push(folder)
  return folder
}
const sha256 = (path: string) => createHash('sha256').update(readFileSync(path)).digest('hex')
const askedAt = '2026-06-02T00:00:00.000Z'

function photoInto(folder: string, file: string, text: string) {
  const hash = createHash('sha256').update(text).digest('hex')
  const name = photoName({ sha256: hash, type: 'image/jpeg' })
  mkdirSync(dirname(join(folder, name)), { recursive: true })
  writeFileSync(join(folder, name), text)
  const db = new Database(file)
  db.exec(`INSERT INTO photos (id, household_id, vehicle_id, sha256, type, bytes, file_name, caption, recorded_at, recorded_by)
    SELECT '01900000-0000-7000-8000-000000000099', household_id, id, '${hash}', 'image/jpeg', ${Buffer.byteLength(text)}, 'a.jpg', '', 'x', recorded_by FROM vehicles`)
  db.close()
  return { name, bytes: Buffer.byteLength(text), sha256: hash }
}

/** A digest of all that each table says, in the columns that it has here or had there. */
type Rows = { readonly columns: ReadonlyMap<string, string>; readonly digests: ReadonlyMap<string, string> }
function everyRow(file: string, like?: Rows): Rows {
  const db = new Database(file, { readonly: true })
  const names = db
    .prepare(
      "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND name NOT LIKE 'search_index%' ORDER BY name",
    )
    .pluck()
    .all() as string[]
  const columns =
    like?.columns ??
    new Map(names.map((name) => [name, db.prepare(`SELECT name FROM pragma_table_info('${name}')`).pluck().all().join(', ')]))
  const digests = new Map(
    [...columns].map(([table, own]) => {
      const rows = db
        .prepare(`SELECT ${own} FROM ${table}`)
        .raw()
        .all()
        .map((row) => JSON.stringify(row))
      return [table, createHash('sha256').update(rows.sort().join('\n')).digest('hex')] as const
    }),
  )
  db.close()
  return { columns, digests }
}

async function checkSanityOf(data: string) {
  const db = openDatabase(join(data, 'loombook.sqlite'))
  try {
    // As every start does.
    fillSearch(db)
    return await checkSanity({ db, data, clock: { now: () => new Date('2026-06-02T00:00:00Z') } })
  } finally {
    closeDatabase(db)
  }
}

describe('restoring', () => {
  it('into an empty folder brings every row, digest and photo back (R10)', async () => {
    const one = book()
    const { folder: from } = await makeBackup(one)
    const counts = rowCounts(one.db)
    closeDatabase(one.db)
    const data = empty()
    expect(await restoreBackup({ from, data, askedAt, present: null })).toEqual({ ok: true, safety: null })
    expect(existsSync(join(data, 'loombook.sqlite'))).toBe(false)
    expect(await finishRestore(data)).toContain('in place')
    const db = openDatabase(join(data, 'loombook.sqlite'))
    expect(rowCounts(db)).toEqual(counts)
    expect(wrongRows(db.$client)).toEqual([])
    closeDatabase(db)
    for (const name of one.photos) expect(sha256(join(data, name))).toBe(sha256(join(one.data, name)))
    expect(await finishRestore(data)).toBe(null)
  })

  it.each(
    readdirSync('migrations')
      .filter((name) => name.endsWith('.sql'))
      .map((name) => name.slice(0, 4)),
  )('a backup of version %s is restored and brought up to date: counts, every row, every photo (R10)', async (version) => {
    const from = empty()
    const file = join(from, 'loombook.sqlite')
    copyFileSync(join('tests/fixtures', version, 'loombook.sqlite'), file)
    const photos = Number(version) < 2 ? [] : [photoInto(from, file, `photo of version ${version}`)]
    const { rows } = checkDatabaseFile(file)
    const database = { name: 'loombook.sqlite', bytes: statSync(file).size, sha256: sha256(file) }
    const manifest = { made_at: '2026-01-06T03:00:00.000Z', schema_version: Number(version), database, rows, photos, missing: [] }
    writeFileSync(join(from, 'manifest.json'), JSON.stringify(manifest))
    const before = everyRow(file)
    const data = empty()
    expect(await restoreBackup({ from, data, askedAt, present: null })).toEqual({ ok: true, safety: null })
    await finishRestore(data)
    closeDatabase(openDatabase(join(data, 'loombook.sqlite')))
    const after = checkDatabaseFile(join(data, 'loombook.sqlite'))
    expect([after.faults, after.version]).toEqual([[], newestVersion()])
    // Column by column as that version had them; what an upgrade adds stands beside it.
    const now = everyRow(join(data, 'loombook.sqlite'), before)
    for (const [table, digest] of before.digests)
      if (table !== 'digests' || Number(version) >= 2) expect(now.digests.get(table), table).toBe(digest)
    expect(before.digests.size).toBeGreaterThan(5)
    for (const photo of photos) expect(sha256(join(data, photo.name))).toBe(photo.sha256)
    expect(await checkSanityOf(data)).toEqual({ records: [], photos: [], moved: 0, remade: 0 })
  })

  it('over a present keeps it twice, swaps its -wal and -shm with it, and what came since is gone', async () => {
    const one = book()
    const { folder: from } = await makeBackup(one)
    value(append(one.db, one.clock, one.actor, one.entry('2026-03-01', [{ kind: 'noted', text: 'Since' }])))
    const answer = await restoreBackup({ from, data: one.data, askedAt, present: one })
    if (!answer.ok || answer.safety === null) throw new Error('not prepared')
    expect(one.db.$client.prepare('SELECT count(*) FROM entries').pluck().get()).toBe(2)
    expect(checkDatabaseFile(join(answer.safety, 'loombook.sqlite')).rows.entries).toBe(2)
    // As after a power cut: the -wal still holds the newest entry.
    for (const end of ['', '-wal']) copyFileSync(`${one.file}${end}`, `${one.file}.left${end}`)
    closeDatabase(one.db)
    for (const end of ['', '-wal']) copyFileSync(`${one.file}.left${end}`, `${one.file}${end}`)
    await finishRestore(one.data)
    const db = openDatabase(one.file)
    expect(db.$client.prepare('SELECT count(*) FROM entries').pluck().get()).toBe(1)
    closeDatabase(db)
    const aside = readdirSync(one.data).find((name) => name.startsWith('replaced-')) as string
    expect(readdirSync(join(one.data, aside)).sort()).toEqual(['loombook.sqlite', 'loombook.sqlite-wal'])
  })

  it('the power going at any step of the swap leaves the next start to go on (R10)', async () => {
    const one = book()
    const { folder: from } = await makeBackup(one)
    closeDatabase(one.db)
    let calls = 0
    const counting = (stopAt: number): Files =>
      Object.fromEntries(
        Object.entries(realFiles).map(([name, call]) => [
          name,
          async (...given: unknown[]) => {
            calls += 1
            if (calls >= stopAt) throw Object.assign(new Error('EIO'), { code: 'EIO' })
            return (call as (...all: unknown[]) => Promise<unknown>)(...given)
          },
        ]),
      ) as Files
    const prepared = async () => {
      const data = empty()
      closeDatabase(openDatabase(join(data, 'loombook.sqlite')))
      await restoreBackup({ from, data, askedAt, present: null })
      calls = 0
      return data
    }
    await finishRestore(await prepared(), counting(Number.POSITIVE_INFINITY))
    const last = calls
    expect(last).toBeGreaterThan(15)
    for (let stopAt = 1; stopAt <= last; stopAt += 1) {
      const data = await prepared()
      await expect(finishRestore(data, counting(stopAt))).rejects.toThrow('EIO')
      await finishRestore(data)
      expect(checkDatabaseFile(join(data, 'loombook.sqlite')), `step ${stopAt}`).toMatchObject({ faults: [], rows: { entries: 1 } })
      for (const name of one.photos) expect(existsSync(join(data, name))).toBe(true)
    }
  }, 180_000)

  it('a trial counts what came back and leaves nothing', async () => {
    const one = book()
    const { folder } = await makeBackup(one)
    const trial = await tryBackup(folder, join(one.data, 'trial'))
    expect(trial).toMatchObject({ faults: [], photos: 3, rows: { entries: 1, photos: 3, vehicles: 1 } })
    expect(existsSync(join(one.data, 'trial'))).toBe(false)
    closeDatabase(one.db)
  })

  it('a damaged present is no reason not to go back', async () => {
    const one = book()
    const { folder: from } = await makeBackup(one)
    one.db.$client.exec("DROP TRIGGER parts_no_update; UPDATE parts SET kind = 'gone'")
    expect(await restoreBackup({ from, data: one.data, askedAt, present: one })).toEqual({ ok: true, safety: null })
    closeDatabase(one.db)
    await finishRestore(one.data)
    expect(checkDatabaseFile(one.file).faults).toEqual([])
  })
})

describe('photos (R7)', () => {
  it('names exactly the missing, the altered and the swapped, and one file comes back from a backup', async () => {
    const one = book()
    const { folder: from, photos: kept } = await makeBackup(one)
    expect(await checkSanity(one)).toEqual({ records: [], photos: [], moved: 0, remade: 0 })
    const [gone, flipped, swapped] = one.photos as [string, string, string]
    rmSync(join(one.data, gone))
    const bytes = readFileSync(join(one.data, flipped))
    bytes[1] = (bytes[1] as number) ^ 4
    writeFileSync(join(one.data, flipped), bytes)
    copyFileSync(join(from, flipped), join(one.data, swapped))
    const { photos, records } = await checkSanity(one)
    expect(photos.filter((says) => says.includes('missing')).map((says) => says.includes(gone))).toEqual([true])
    expect(photos.filter((says) => says.includes(flipped) || says.includes(swapped))).toHaveLength(2)
    expect([photos.length, records]).toEqual([3, []])
    for (const photo of kept) expect(await restorePhoto({ from, data: one.data, photo })).toBe(true)
    expect((await checkSanity(one)).photos).toEqual([])
    closeDatabase(one.db)
  })
})

describe('a database that is handed in (B21)', () => {
  const fixture = 'tests/fixtures/0002/loombook.sqlite'
  const changed = (sql: string) => {
    const file = join(empty(), 'given.sqlite')
    copyFileSync(fixture, file)
    const db = new Database(file)
    db.exec(sql)
    db.close()
    return file
  }

  it('is accepted as made', () => expect(checkDatabaseFile(changed('SELECT 1')).faults).toEqual([]))

  it.each([
    ['a trigger', 'CREATE TRIGGER strange AFTER INSERT ON sessions BEGIN DELETE FROM settings; END', /tables are not those/],
    ['a view', 'CREATE VIEW strange AS SELECT 1 AS one', /tables are not those/],
    ['a view in place of a table', 'DROP TABLE jobs; CREATE VIEW jobs AS SELECT * FROM households', /tables are not those/],
    ['a virtual table', 'CREATE VIRTUAL TABLE strange USING fts5(words)', /tables are not those/],
    ['an index on an expression', 'CREATE INDEX strange ON settings (abs(value))', /tables are not those/],
    ['a trigger less', 'DROP TRIGGER entries_no_update', /tables are not those/],
    ['another application id', 'PRAGMA application_id = 7', /not a Loombook database/],
    ['a newer version', 'PRAGMA user_version = 900', /newer Loombook/],
    ['an older version than its tables', 'PRAGMA user_version = 1', /tables are not those/],
    ['no version', 'PRAGMA user_version = 0', /no version/],
  ])('with %s is refused and stays as it was', (_name, sql, says) => {
    const file = changed(sql)
    const before = sha256(file)
    expect(checkDatabaseFile(file).faults[0]).toMatch(says)
    expect(sha256(file)).toBe(before)
  })

  it('is read with the log of writes that lies beside it, and keeps it', () => {
    const [writing, given] = [join(empty(), 'loombook.sqlite'), join(empty(), 'given.sqlite')]
    copyFileSync(fixture, writing)
    const db = new Database(writing)
    db.pragma('journal_mode = WAL')
    const { rows } = checkDatabaseFile(writing)
    db.exec("INSERT INTO jobs (name, started_at, says) VALUES ('one more', '2026-01-01T00:00:00.000Z', '')")
    for (const end of ['', '-wal']) copyFileSync(writing + end, given + end)
    db.close()
    for (const _time of [1, 2]) expect(checkDatabaseFile(given).rows.jobs).toBe((rows.jobs as number) + 1)
  })

  it.each([
    ['of no bytes', Buffer.alloc(0)],
    ['that is text', Buffer.from('not a database '.repeat(500))],
    ['cut in half', readFileSync(fixture).subarray(0, 40_000)],
  ])('%s is refused', (_name, bytes) => {
    const file = join(empty(), 'given.sqlite')
    writeFileSync(file, bytes)
    expect(checkDatabaseFile(file).faults).not.toEqual([])
  })

  it('whose header claims four thousand million pages is refused', () => {
    const file = join(empty(), 'given.sqlite')
    const bytes = readFileSync(fixture)
    bytes.writeUInt32BE(0xfffffffe, 28)
    writeFileSync(file, bytes)
    expect(checkDatabaseFile(file).faults).not.toEqual([])
  })
})
