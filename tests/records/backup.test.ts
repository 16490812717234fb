import { spawn } from 'node:child_process'
import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { afterEach, describe, expect, it } from 'vitest'
import { keptOf, listBackups, makeBackup, removeUnfinished, rotateBackups, verifyBackup } from '../../server/records/backup.ts'
import { closeDatabase } from '../../server/records/database.ts'
import { type Files, realFiles } from '../../server/records/files.ts'
import { append } from '../../server/records/journal.ts'
import { addPhoto, type BookOnDisk, bookOnDisk } from './backup-book.ts'
import { rowCounts, value } from './book.ts'

const open: BookOnDisk[] = []
const book = (photos?: readonly string[]) => {
  const one = bookOnDisk(photos)
  open.push(one)
  return one
}
afterEach(() => {
  for (const { db, data } of open.splice(0)) {
    closeDatabase(db)
    rmSync(data, { recursive: true })
  }
})

/** The real disk, but for the k-th call, which fails (and, if it stays so, every later one). */
function failing(k: number, code: string, sticky: boolean): { files: Files; calls: () => number } {
  let calls = 0
  const files = Object.fromEntries(
    Object.entries(realFiles).map(([name, call]) => [
      name,
      async (...given: unknown[]) => {
        calls += 1
        if (calls === k || (sticky && calls > k)) throw Object.assign(new Error(`${code}: ${name}`), { code })
        return (call as (...all: unknown[]) => Promise<unknown>)(...given)
      },
    ]),
  ) as Files
  return { files, calls: () => calls }
}

describe('a backup', () => {
  it('holds every row and photo, and its list of contents fits what lies there', async () => {
    const one = book()
    const { folder, photos, contents } = await makeBackup(one)
    const copy = new Database(join(folder, 'loombook.sqlite'), { readonly: true })
    expect(copy.prepare('SELECT title FROM entries').pluck().all()).toEqual(['Work'])
    copy.close()
    expect(photos.map((photo) => photo.name).sort()).toEqual([...one.photos].sort())
    for (const name of one.photos) expect(readFileSync(join(folder, name))).toEqual(readFileSync(join(one.data, name)))
    expect(contents.rows.entries).toBe(rowCounts(one.db).entries)
    expect(await verifyBackup(folder)).toEqual([])
  })

  it('takes no room for photos that the one before has, and shares none with the data folder', async () => {
    const one = book()
    const first = await makeBackup(one)
    addPhoto(one, 'four')
    const second = await makeBackup(one)
    const inode = (folder: string, name: string) => statSync(join(folder, name)).ino
    for (const name of one.photos) {
      expect(inode(second.folder, name)).toBe(inode(first.folder, name))
      expect(inode(second.folder, name)).not.toBe(inode(one.data, name))
    }
    expect(second.photos).toHaveLength(4)
  })

  it('names a photo that is gone or altered, and takes a good one from the backup before', async () => {
    const one = book()
    await makeBackup(one)
    writeFileSync(join(one.data, one.photos[0] as string), 'onf')
    expect((await makeBackup(one)).missing).toEqual([])
    const fresh = addPhoto(one, 'five')
    rmSync(join(one.data, fresh))
    expect((await makeBackup(one)).missing).toEqual([fresh])
  })

  it('is refused where there is no room, and nothing is left of it', async () => {
    const one = book()
    const files = { ...realFiles, free_bytes: async () => 1000 }
    await expect(makeBackup({ ...one, files })).rejects.toThrow(/not enough room/)
    expect(readdirSync(one.folder)).toEqual([])
  })

  it.each(['database', 'photo', 'manifest'])('whose %s was changed afterwards does not verify (R6)', async (what) => {
    const one = book()
    const { folder, photos } = await makeBackup(one)
    const path = join(folder, what === 'database' ? 'loombook.sqlite' : what === 'photo' ? (photos[0]?.name as string) : 'manifest.json')
    const bytes = readFileSync(path)
    bytes[bytes.length - 1] = (bytes.at(-1) as number) ^ 1
    if (what === 'manifest') writeFileSync(path, bytes.toString().replace(/"bytes":(\d)/, '"bytes":9$1'))
    else writeFileSync(path, bytes)
    expect((await verifyBackup(folder)).length).toBeGreaterThan(0)
  })
})

describe('the disk fails', () => {
  it.each([
    ['EIO', false],
    ['EIO', true],
    ['ENOSPC', false],
    ['ENOSPC', true],
    ['EDQUOT', true],
  ])('%s at the k-th call, sticky %s: a whole new backup or none, the older one untouched (R4, R5)', async (code, sticky) => {
    const one = book(['one', 'two'])
    const older = await makeBackup(one)
    const counted = failing(0, code, false)
    await makeBackup({ ...one, files: counted.files })
    const last = counted.calls()
    expect(last).toBeGreaterThan(15)
    for (let k = 1; k <= last; k += 1) {
      const before = readdirSync(one.folder).filter((name) => !name.startsWith('.'))
      const made = await makeBackup({ ...one, files: failing(k, code, sticky).files }).then(
        (backup) => backup.name,
        () => null,
      )
      const after = readdirSync(one.folder).filter((name) => !name.startsWith('.'))
      const added = after.filter((name) => !before.includes(name))
      expect(before.every((name) => after.includes(name))).toBe(true)
      // The very last call flushes the folder: the backup is whole by then, but it is not told as made.
      if (made === null && k < last) expect(added, `call ${k}`).toEqual([])
      for (const name of added) expect(await verifyBackup(join(one.folder, name))).toEqual([])
      await removeUnfinished(one.folder)
      for (const name of added) rmSync(join(one.folder, name), { recursive: true })
      expect(readdirSync(one.folder).filter((name) => name.startsWith('.'))).toEqual([])
    }
    expect(await verifyBackup(older.folder)).toEqual([])
  })
})

it('a writer killed at 20 points leaves no backup under its final name unless it is whole (R9)', async () => {
  const one = book(Array.from({ length: 30 }, (_, index) => `photo ${index} `.repeat(2000)))
  const older = await makeBackup(one)
  let interrupted = 0
  for (let point = 1; point <= 20; point += 1) {
    const code = await new Promise<number | null>((resolve) => {
      const child = spawn(
        process.execPath,
        ['--import', 'tsx', 'tests/records/killed-backup.ts', one.file, one.data, one.folder, String(point * 7)],
        { stdio: 'ignore' },
      )
      child.on('exit', resolve)
    })
    if (code === null) interrupted += 1
    const visible = readdirSync(one.folder).filter((name) => !name.startsWith('.'))
    for (const name of visible) expect(await verifyBackup(join(one.folder, name))).toEqual([])
    if (code === null) expect(visible).toEqual([older.name])
    // Seven calls look at what is there already, the eighth makes a folder.
    expect(await removeUnfinished(one.folder)).toBe(code === null && point * 7 > 8 ? 1 : 0)
    expect(readdirSync(one.folder)).toEqual([older.name])
  }
  expect(interrupted).toBe(20)
  expect((await listBackups(one.folder)).map(({ name }) => name)).toEqual([older.name])
}, 180_000)

it('50 backups during writes are each one moment: two counters that only move together agree (R8)', async () => {
  const one = book([])
  const { householdId } = one.actor
  const set = (name: string, amount: number) =>
    one.db.$client
      .prepare('INSERT INTO settings VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET value = excluded.value')
      .run(householdId, name, String(amount))
  let moved = 0
  const move = one.db.$client.transaction(() => {
    moved += 1
    set('left', 1000 - moved)
    set('right', moved)
  })
  move()
  let writing = true
  const writer = (async () => {
    while (writing) {
      move()
      if (moved % 20 === 0) value(append(one.db, one.clock, one.actor, one.entry('2026-02-01', [{ kind: 'noted', text: `${moved}` }])))
      await new Promise((resolve) => setImmediate(resolve))
    }
  })()
  const seen = new Set<number>()
  for (let round = 0; round < 50; round += 1) {
    const { folder } = await makeBackup(one)
    const copy = new Database(join(folder, 'loombook.sqlite'), { readonly: true })
    const read = Object.fromEntries(copy.prepare('SELECT name, value FROM settings').raw().all() as [string, string][])
    copy.close()
    expect(Number(read.left) + Number(read.right)).toBe(1000)
    seen.add(Number(read.right))
    for (const end of ['-wal', '-shm']) rmSync(join(folder, `loombook.sqlite${end}`), { force: true })
    expect(await verifyBackup(folder)).toEqual([])
  }
  writing = false
  await writer
  expect(seen.size).toBeGreaterThan(40)
}, 120_000)

describe('keeping', () => {
  const days = (count: number) =>
    Array.from({ length: count }, (_, back) => {
      const madeAt = new Date(Date.UTC(2026, 10, 26, 3) - back * 86_400_000).toISOString()
      return { name: madeAt.slice(0, 10), madeAt }
    })

  it('keeps 7 days, 4 weeks and 12 months', () => {
    const kept = keptOf(days(500)).sort().reverse()
    expect(kept.slice(0, 7)).toEqual(days(7).map(({ name }) => name))
    // 26 November 2026 is a Thursday: the weeks before end on Sundays 22, 15 and 8; the months on their last days.
    expect(kept.slice(7)).toEqual([
      '2026-11-15',
      '2026-11-08',
      '2026-10-31',
      '2026-09-30',
      '2026-08-31',
      '2026-07-31',
      '2026-06-30',
      '2026-05-31',
      '2026-04-30',
      '2026-03-31',
      '2026-02-28',
      '2026-01-31',
      '2025-12-31',
    ])
  })

  it('never drops the last good one, however old', async () => {
    const one = book([])
    const at = (day: string) => makeBackup({ ...one, clock: { now: () => new Date(`${day}T03:00:00Z`) } })
    const good = await at('2024-01-05')
    const bad = []
    for (let day = 10; day < 29; day += 1) bad.push(await at(`2026-11-${day}`))
    for (const { folder } of bad) writeFileSync(join(folder, 'loombook.sqlite'), 'gone')
    for (let month = 1; month <= 9; month += 1) writeFileSync(join((await at(`2026-0${month}-03`)).folder, 'loombook.sqlite'), 'gone')
    for (let month = 1; month <= 9; month += 1) writeFileSync(join((await at(`2025-0${month}-03`)).folder, 'loombook.sqlite'), 'gone')
    const { kept, dropped } = await rotateBackups(one.folder)
    expect(kept).toContain(good.name)
    expect(dropped.length).toBeGreaterThan(5)
    expect(existsSync(good.folder)).toBe(true)
    expect(readdirSync(one.folder).sort()).toEqual([...kept].sort())
  }, 60_000)

  it('leaves alone what is not a backup', async () => {
    const one = book([])
    await makeBackup(one)
    mkdirSync(join(one.folder, 'my own things'))
    await rotateBackups(one.folder)
    expect(existsSync(join(one.folder, 'my own things'))).toBe(true)
  })
})
