/** A request sent again is done once. */
import { afterAll, beforeAll, expect, test } from 'vitest'
import { rowCounts } from '../records/book.ts'
import { type ApiBook, ENTRY, idsOf, openBook } from './book.ts'

let book: ApiBook
let told: readonly (readonly [string, object, object, string])[]
beforeAll(async () => {
  book = await openBook()
  const { vehicle, part } = await idsOf(book)
  const { name, ratings } = (await book.ask(`/api/parts/${part}`)).json() as { name: string; ratings: object }
  told = [
    ['/api/vehicles', { name: 'Oak', systemVoltage_V: 12 }, { name: 'Elm', systemVoltage_V: 12 }, 'vehicles'],
    [`/api/vehicles/${vehicle}/entries`, ENTRY, { ...ENTRY, title: 'Another' }, 'entries'],
    ['/api/parts', { kind: 'fuse', name: 'Fuse', ratings: {} }, { kind: 'fuse', name: 'Fuse', ratings: { rated_A: 5 } }, 'parts'],
    [`/api/parts/${part}/revisions`, { name, ratings, notes: 'One' }, { name, ratings, notes: 'Two' }, 'part_revisions'],
  ]
})
afterAll(() => book.close())

const grown = (before: Record<string, number>, table: string) => (rowCounts(book.db)[table] ?? 0) - (before[table] ?? 0)

test('R17: the same key five times one after another: one record, the same answer', async () => {
  for (const [url, body, , table] of told) {
    const before = rowCounts(book.db)
    const replies = []
    for (let n = 0; n < 5; n++) replies.push(await book.tell(url, body, { headers: { 'idempotency-key': `serial-${table}` } }))
    expect(new Set(replies.map((reply) => `${reply.statusCode} ${reply.body}`)).size, url).toBe(1)
    expect(replies[0]?.statusCode, replies[0]?.body.slice(0, 300)).toBe(201)
    expect(replies.map((reply) => reply.headers['idempotency-replayed'])).toEqual([undefined, 'true', 'true', 'true', 'true'])
    expect(grown(before, table)).toBe(1)
    expect(grown(before, 'idempotency_keys')).toBe(1)
  }
})

test('R17: the same key five times at once: one record, the same answer', async () => {
  for (const [url, body, , table] of told) {
    const before = rowCounts(book.db)
    const headers = { 'idempotency-key': `at-once-${table}` }
    const replies = await Promise.all(Array.from({ length: 5 }, () => book.tell(url, body, { headers })))
    expect(new Set(replies.map((reply) => `${reply.statusCode} ${reply.body}`)).size, url).toBe(1)
    expect(replies[0]?.statusCode).toBe(201)
    expect(grown(before, table)).toBe(1)
  }
})

test('the same key with another body, or at another address: 422, and nothing recorded', async () => {
  for (const [url, body, other, table] of told) {
    const headers = { 'idempotency-key': `other-${table}` }
    expect((await book.tell(url, body, { headers })).statusCode).toBe(201)
    const before = rowCounts(book.db)
    const reply = await book.tell(url, other, { headers })
    expect(reply.statusCode).toBe(422)
    expect(reply.json()).toMatchObject({ type: '/api-guide#key-used' })
    for (const [elsewhere, theirs] of told.filter(([one]) => one !== url))
      expect((await book.tell(elsewhere, theirs, { headers })).statusCode).toBe(422)
    expect(rowCounts(book.db)).toEqual(before)
  }
})

test('without a key each request is one of its own; a key is each household’s own', async () => {
  const before = rowCounts(book.db)
  const body = { name: 'Ash', systemVoltage_V: 12 }
  for (let n = 0; n < 2; n++) expect((await book.tell('/api/vehicles', body)).statusCode).toBe(201)
  const headers = { 'idempotency-key': 'shared' }
  const mine = await book.tell('/api/vehicles', body, { headers })
  const theirs = await book.tell('/api/vehicles', { ...body, name: 'Yew' }, { headers, as: 'stranger' })
  expect([mine.statusCode, theirs.statusCode]).toEqual([201, 201])
  expect(grown(before, 'vehicles')).toBe(4)
})

test('what was refused is not kept: put right, it may come with the same key', async () => {
  const url = `/api/vehicles/${book.vehicle}/entries`
  const headers = { 'idempotency-key': 'put-right' }
  const before = rowCounts(book.db)
  const wrong = { ...ENTRY, changes: [{ kind: 'removed', component: 'not-there', fate: 'bin' }] }
  expect((await book.tell(url, wrong, { headers })).statusCode).toBe(409)
  expect((await book.tell(url, { ...ENTRY, effectiveOn: '2026-12-24' }, { headers })).statusCode).toBe(422)
  expect(rowCounts(book.db)).toEqual(before)
  expect((await book.tell(url, ENTRY, { headers })).statusCode).toBe(201)
})

test('a key that is none is refused', async () => {
  for (const key of ['', ' ', 'a b', 'x'.repeat(256), 'ä'])
    expect(
      (await book.tell('/api/vehicles', { name: 'Ash', systemVoltage_V: 12 }, { headers: { 'idempotency-key': key } })).statusCode,
      key,
    ).toBe(422)
})

/** The same value with its fields turned round, however deep. */
function turned(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(turned)
  if (typeof value !== 'object' || value === null) return value
  return Object.fromEntries(
    Object.entries(value)
      .reverse()
      .map(([name, inner]) => [name, turned(inner)]),
  )
}

test('fields in another order, or with blanks between them, are the same request', async () => {
  for (const [url, body, , table] of told) {
    const headers = { 'idempotency-key': `turned-${table}` }
    const before = rowCounts(book.db)
    const first = await book.tell(url, body, { headers })
    expect(first.statusCode, first.body.slice(0, 300)).toBe(201)
    const other = JSON.stringify(turned(body), null, 2)
    expect(other.replace(/\s/g, '')).not.toBe(JSON.stringify(body).replace(/\s/g, ''))
    const again = await book.tell(url, other, { headers })
    expect([again.statusCode, again.headers['idempotency-replayed'], again.body]).toEqual([201, 'true', first.body])
    expect(grown(before, table)).toBe(1)
  }
})

test('a list in another order is another request', async () => {
  const headers = { 'idempotency-key': 'list' }
  const url = `/api/vehicles/${book.vehicle}/entries`
  const noted = (text: string) => ({ kind: 'noted', component: 'r7', text })
  expect((await book.tell(url, { ...ENTRY, changes: [noted('Dry.'), noted('Wet.')] }, { headers })).statusCode).toBe(201)
  const other = await book.tell(url, { ...ENTRY, changes: [noted('Wet.'), noted('Dry.')] }, { headers })
  expect(other.json()).toMatchObject({ status: 422, type: '/api-guide#key-used' })
})
