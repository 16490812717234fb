import { appendFileSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest'
import { runNow } from '../../server/records/jobs.ts'
import { sessionsOfAll } from '../../server/records/sessions-of-all.ts'
import { databaseSizes, storageOf } from '../../server/records/storage.ts'
import { closeDatabase, openDatabase } from '../../server/records/database.ts'
import { household } from '../records/book.ts'
import { type Book, openBook } from './book.ts'
import { textOf } from './markup.ts'

let book: Book
beforeAll(async () => {
  book = await openBook()
})
afterAll(() => book.close())
const words = async () => textOf((await book.get('/operations')).body).replace(/\s+/g, ' ')

describe('the page of how the server is doing', () => {
  test('tells what each job did last, how it ended, and what never ran', async () => {
    expect(await words()).toContain('Backup not yet; every night')
    const job = { name: 'backup', title: 'Backup', every: 'night' as const }
    await runNow(book.db, book.clock, { ...job, run: () => 'All copied.' })
    expect(await words()).toMatch(/Backup 25 November 2026, 12:00 less than a second All copied\./)
    await runNow(book.db, book.clock, {
      ...job,
      run: () => {
        throw new Error('no room <b>')
      },
    })
    expect(await words()).toContain('failed: no room')
    expect((await book.get('/operations')).body).toContain('no room &lt;b&gt;')
  })

  test('tells who is signed in and where, and shows nothing that opens a session', async () => {
    const page = await book.get('/operations')
    expect(textOf(page.body)).toContain('Owner')
    const hash = book.db.$client.prepare('SELECT token_hash FROM sessions').pluck().get() as string
    expect(page.body).not.toContain(hash)
    expect(page.body).not.toContain(book.cookie.split('=')[1] as string)
  })

  test('counts what was refused', async () => {
    const before = Number(/, (\w+) of them refused/.exec(await words())?.[1]?.replace('none', '0'))
    await book.post('/vehicles', { _token: 'wrong', name: 'Fern' })
    expect(await words()).toContain(`, ${before + 1} of them refused`)
  })

  test('counts a token made and used', async () => {
    expect(await words()).toContain('Tokens of programs 0 open')
    const made = await book.post('/tokens', { name: 'a clock', scope: 'read' })
    expect(await words()).toContain('Tokens of programs 1 open, never used')
    const token = /<p class="mono">([^<]+)<\/p>/.exec(made.body)?.[1]
    await book.app.inject({ url: '/api/vehicles', headers: { authorization: `Bearer ${token}` } })
    expect(await words()).toContain('Tokens of programs 1 open, last used 25 November 2026')
  })

  test('a photo is counted with its bytes, once though two records show it', async () => {
    const bytes = await sharp({ create: { width: 300, height: 200, channels: 3, background: '#456' } })
      .jpeg()
      .toBuffer()
    for (const vehicle of book.vehicles.slice(0, 2)) await book.send(`/vehicles/${vehicle}/photos`, { files: [{ name: 'a.jpg', bytes }] })
    const storage = await storageOf(book.db, book.data)
    expect([storage.originals, storage.originals_bytes]).toEqual([1, bytes.length])
  })

  test('B4: is for owners only, and B3: shows another household nothing', async () => {
    expect(sessionsOfAll(book.db, book.actor)).toHaveLength(1)
    expect(sessionsOfAll(book.db, household(book.db, book.clock, 'Neighbour'))).toEqual([])
    book.db.$client.prepare("UPDATE people SET role = 'viewer'").run()
    expect((await book.get('/operations')).statusCode).toBe(403)
    book.db.$client.prepare("UPDATE people SET role = 'owner'").run()
  })
})

test('files are weighed as they lie on the disk', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'loombook-weigh-'))
  const db = openDatabase(join(folder, 'loombook.sqlite'))
  mkdirSync(join(folder, 'thumbnails', 'ab'), { recursive: true })
  for (const [name, size] of [
    ['one', 1000],
    ['two', 234],
  ] as const)
    writeFileSync(join(folder, 'thumbnails', 'ab', name), Buffer.alloc(size))
  const storage = await storageOf(db, folder)
  expect([storage.thumbnails, storage.thumbnails_bytes, storage.upgrades, storage.originals]).toEqual([2, 1234, 0, 0])
  expect(storage.free_bytes).toBeGreaterThan(0)
  const pages = Number(db.$client.pragma('page_count', { simple: true })) * Number(db.$client.pragma('page_size', { simple: true }))
  db.$client.pragma('wal_checkpoint(TRUNCATE)')
  expect(await databaseSizes(db)).toEqual({ database_bytes: pages, log_bytes: 0 })
  closeDatabase(db)
  rmSync(folder, { recursive: true })
})

test('a folder that has not changed for a while is not walked through again, and is as soon as it changes', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'loombook-weigh-'))
  const db = openDatabase(join(folder, 'loombook.sqlite'))
  const within = join(folder, 'thumbnails', 'ab')
  mkdirSync(within, { recursive: true })
  writeFileSync(join(within, 'one'), Buffer.alloc(1000))
  const weight = async () => {
    const { thumbnails, thumbnails_bytes } = await storageOf(db, folder)
    return [thumbnails, thumbnails_bytes]
  }
  expect(await weight()).toEqual([1, 1000])
  // Changed a moment ago: whether it changed again its time might not tell.
  appendFileSync(join(within, 'one'), Buffer.alloc(1))
  expect(await weight()).toEqual([1, 1001])
  vi.useFakeTimers({ toFake: ['Date'], now: Date.now() + 60_000 })
  try {
    expect(await weight()).toEqual([1, 1001])
    // Nothing puts a longer file in place of another so; here it shows that the folder was not walked through.
    appendFileSync(join(within, 'one'), Buffer.alloc(1))
    expect(await weight()).toEqual([1, 1001])
    writeFileSync(join(within, 'two'), Buffer.alloc(200))
    expect(await weight()).toEqual([2, 1202])
    mkdirSync(join(folder, 'thumbnails', 'cd'))
    writeFileSync(join(folder, 'thumbnails', 'cd', 'three'), Buffer.alloc(30))
    expect(await weight()).toEqual([3, 1232])
    rmSync(join(within, 'one'))
    expect(await weight()).toEqual([2, 230])
    rmSync(join(folder, 'thumbnails'), { recursive: true })
    expect(await weight()).toEqual([0, 0])
  } finally {
    vi.useRealTimers()
    closeDatabase(db)
    rmSync(folder, { recursive: true })
  }
})
