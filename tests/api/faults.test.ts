/** What programs are told where the fault is not in what they asked: the same as a page, as a problem (RFC 9457). */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { PROBLEMS, problemSchema } from '../../server/api/problem.ts'
import { notedDamage } from '../../server/records/damage.ts'
import { rowCounts } from '../records/book.ts'
import { type ApiBook, openBook } from './book.ts'

const VEHICLE = { name: 'Oak', systemVoltage_V: 12 }
const WRONG = { authorization: `Bearer ${'x'.repeat(43)}` }
type Reply = Awaited<ReturnType<ApiBook['ask']>>

let folder: string
let book: ApiBook
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'loombook-api-faults-'))
  book = await openBook({ data: folder })
  book.db.$client.pragma('busy_timeout = 20')
})
afterAll(async () => {
  await book.close()
  rmSync(folder, { recursive: true, force: true })
})

const count = (table: string) => Number(book.db.$client.prepare(`SELECT count(*) FROM ${table}`).pluck().get())

function isProblem(reply: Reply, code: string): void {
  expect(reply.headers['content-type']).toBe('application/problem+json; charset=utf-8')
  const problem = problemSchema.parse(reply.json())
  expect([problem.type, problem.status]).toEqual([`/api-guide#${code}`, reply.statusCode])
  for (const secret of ['SQLITE', 'sqlite', folder, 'Error:', 'node_modules']) expect(reply.body).not.toContain(secret)
}

describe('B40: the records held by another program', () => {
  let other: Database.Database
  beforeAll(() => {
    other = new Database(join(folder, 'loombook.sqlite'))
    other.exec('BEGIN IMMEDIATE')
  })
  afterAll(() => {
    other.close()
  })

  test('a program that writes is told what a page is told, and when to come again', async () => {
    const page = await book.post('/vehicles', { name: 'Oak', systemVoltage_V: '12' })
    for (const headers of [{}, { 'idempotency-key': 'held' }] as Record<string, string>[]) {
      const reply = await book.tell('/api/vehicles', VEHICLE, { headers })
      expect([reply.statusCode, reply.headers['retry-after']]).toEqual([503, '5'])
      expect([page.statusCode, page.headers['retry-after']]).toEqual([503, '5'])
      isProblem(reply, 'in-use')
      expect(page.body).toContain((reply.json() as { detail: string }).detail)
    }
  })

  test('reading goes on; a wrong token is a wrong token, and one that only reads is no more than that', async () => {
    expect((await book.ask('/api/vehicles')).statusCode).toBe(200)
    const wrong = await book.app.inject({ url: '/api/vehicles', headers: WRONG })
    expect([wrong.statusCode, wrong.headers['www-authenticate']]).toEqual([401, 'Bearer realm="Loombook"'])
    isProblem(wrong, 'no-token')
    const reads = await book.tell('/api/vehicles', VEHICLE, { as: 'read' })
    expect(reads.statusCode).toBe(403)
    isProblem(reads, 'token-reads-only')
  })

  test('a form that is not ours is refused as always, although that cannot be noted', async () => {
    const refused = await book.post('/vehicles', { name: 'Oak', systemVoltage_V: '12', _token: 'wrong' })
    expect(refused.statusCode).toBe(403)
  })

  test('let go again, the same request is done', async () => {
    other.exec('ROLLBACK')
    const [vehicles, refusals] = [count('vehicles'), count('security_events')]
    expect((await book.tell('/api/vehicles', VEHICLE, { headers: { 'idempotency-key': 'held' } })).statusCode).toBe(201)
    await book.app.inject({ url: '/api/vehicles', headers: WRONG })
    expect([count('vehicles'), count('security_events')]).toEqual([vehicles + 1, refusals + 1])
  })
})

describe('R4: a disk without room', () => {
  let pages = 0
  beforeAll(() => {
    // SQLite's own bound stands in for the disk's: it answers SQLITE_FULL where the file would have to grow.
    const { $client } = book.db
    pages = Number($client.pragma('max_page_count', { simple: true }))
    $client.exec('CREATE TABLE filler (x)')
    $client.pragma(`max_page_count = ${$client.pragma('page_count', { simple: true })}`)
    try {
      for (;;) $client.prepare('INSERT INTO filler VALUES (zeroblob(1))').run()
    } catch {}
  })
  afterAll(() => {
    book.db.$client.pragma(`max_page_count = ${pages}`)
    book.db.$client.exec('DROP TABLE filler')
  })

  test('507 in the words of a page; nothing is half there, reading goes on', async () => {
    const long = { ...VEHICLE, notes: 'n'.repeat(5000) }
    let page = await book.post('/vehicles', { name: 'Oak', systemVoltage_V: '12' })
    // Pages of the file that are begun take some rows yet.
    for (let n = 0; n < 100 && page.statusCode === 303; n++) page = await book.post('/vehicles', { name: 'Oak', systemVoltage_V: '12' })
    expect(page.statusCode).toBe(507)
    const before = rowCounts(book.db)
    const reply = await book.tell('/api/vehicles', long, { headers: { 'idempotency-key': 'full' } })
    expect([reply.statusCode, reply.headers['retry-after']]).toEqual([507, undefined])
    isProblem(reply, 'no-room')
    expect(page.body).toContain((reply.json() as { detail: string }).detail)
    expect(rowCounts(book.db)).toEqual(before)
    expect((await book.ask('/api/vehicles')).statusCode).toBe(200)
    expect((await book.app.inject({ url: '/api/vehicles', headers: WRONG })).statusCode).toBe(401)
  })
})

test('damage that a program meets is told as such, shuts the house, and writing says why from then on', async () => {
  const hurt = await openBook()
  const { $client } = hurt.db
  const prepare = $client.prepare.bind($client)
  $client.prepare = ((sql: string) => {
    if (sql.includes('SELECT id FROM vehicles')) throw Object.assign(new Error('disk image is malformed'), { code: 'SQLITE_CORRUPT' })
    return prepare(sql)
  }) as typeof $client.prepare
  const [reply, page] = [await hurt.ask('/api/vehicles'), await hurt.get('/')]
  for (const one of [reply, page]) expect([one.statusCode, one.headers['retry-after']]).toEqual([503, '5'])
  isProblem(reply, 'damaged')
  expect(page.body).toContain((reply.json() as { detail: string }).detail)
  expect(notedDamage(hurt.db)).toContain('malformed')
  $client.prepare = prepare
  const written = await hurt.tell('/api/vehicles', VEHICLE)
  expect([written.statusCode, written.headers['retry-after']]).toEqual([503, '5'])
  isProblem(written, 'nothing-written')
  await hurt.close()
})

test('what is longer than any address, or cannot be read, is answered as a page is', async () => {
  for (const [path, status, code] of [
    ['a'.repeat(5000), 414, 'address-too-long'],
    [`vehicles/${'a'.repeat(3000)}`, 414, 'address-too-long'],
    ['%zz', 400, 'address-not-read'],
    [`vehicles/${'a'.repeat(200)}`, 404, 'not-found'],
  ] as const) {
    const [reply, page] = [await book.ask(`/api/${path}`), await book.get(`/${path}`)]
    expect([path.slice(0, 12), reply.statusCode, page.statusCode]).toEqual([path.slice(0, 12), status, status])
    isProblem(reply, code)
    expect(page.body).toContain((reply.json() as { detail: string }).detail)
  }
})

test('every problem there is has its place in the guide', async () => {
  const guide = (await book.get('/api-guide')).body
  for (const [code, { status }] of Object.entries(PROBLEMS)) expect(guide).toContain(`<dt id="${code}">${status} ${code}</dt>`)
})
