/** Who is let in, what a token reaches, and what is made of odd addresses. */
import { PassThrough } from 'node:stream'
import { eq } from 'drizzle-orm'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { operations } from '../../server/api/operations.ts'
import { makeToken, revokeToken, tokensOf } from '../../server/records/api-tokens.ts'
import { newId } from '../../server/records/ids.ts'
import { jobs, people, securityEvents } from '../../server/records/schema.ts'
import { rowCounts, value } from '../records/book.ts'
import { type ApiBook, ENTRY, idsOf, openBook } from './book.ts'

let book: ApiBook
let ids: Awaited<ReturnType<typeof idsOf>>
beforeAll(async () => {
  book = await openBook()
  ids = await idsOf(book)
})
afterAll(() => book.close())

const placed = (path: string, id: string) => `/api${path.replace(':id', id)}`
const ownId = (path: string) =>
  path.startsWith('/vehicles') ? ids.vehicle : path.startsWith('/entries') ? ids.entry : path.startsWith('/parts') ? ids.part : ids.photo

describe('B38: tokens', () => {
  test('without one, with a wrong one, in another way or with a cookie alone: 401', async () => {
    for (const { method, path } of operations) {
      const url = placed(path, ownId(path))
      for (const headers of [
        {},
        { authorization: 'Bearer' },
        { authorization: `Bearer ${'x'.repeat(43)}` },
        { authorization: `Bearer ${book.tokens.write.slice(0, -1)}` },
        { authorization: `Basic ${book.tokens.write}` },
        { authorization: `Bearer ${'y'.repeat(10_000)}` },
        { cookie: book.cookie },
        { cookie: book.cookie, 'x-form-token': book.token },
        { cookie: `loombook_session=${book.tokens.write}` },
      ] as Record<string, string>[]) {
        const reply = await book.app.inject({ method, url, headers: { ...headers } })
        expect(reply.statusCode, `${method} ${url}`).toBe(401)
        expect(reply.headers['www-authenticate']).toMatch(/^Bearer/)
        expect(reply.headers['set-cookie']).toBeUndefined()
      }
    }
  })

  test('revoked, expired, or of somebody who may no longer come in: 401 from the next request on', async () => {
    const made = value(makeToken(book.db, book.clock, book.actor, { name: 'short', scope: 'read', expiresOn: null })).token
    const headers = { authorization: `Bearer ${made}` }
    expect((await book.app.inject({ url: '/api/vehicles', headers })).statusCode).toBe(200)
    const id = tokensOf(book.db, book.clock, book.actor).find((one) => one.name === 'short')?.id as string
    expect(revokeToken(book.db, book.clock, book.stranger, id)).toBe(false)
    expect((await book.app.inject({ url: '/api/vehicles', headers })).statusCode).toBe(200)
    expect(revokeToken(book.db, book.clock, book.actor, id)).toBe(true)
    expect((await book.app.inject({ url: '/api/vehicles', headers })).statusCode).toBe(401)

    const theirs = { authorization: `Bearer ${book.tokens.stranger}` }
    const setDisabled = (disabledAt: string | null) =>
      book.db.update(people).set({ disabledAt }).where(eq(people.id, book.stranger.personId)).run()
    expect((await book.app.inject({ url: '/api/vehicles', headers: theirs })).statusCode).toBe(200)
    setDisabled('2026-11-25T00:00:00.000Z')
    expect((await book.app.inject({ url: '/api/vehicles', headers: theirs })).statusCode).toBe(401)
    setDisabled(null)
  })

  test('revoked while the body is still on its way: 401, and nothing is recorded', async () => {
    const made = value(makeToken(book.db, book.clock, book.actor, { name: 'slow', scope: 'write', expiresOn: null })).token
    const id = tokensOf(book.db, book.clock, book.actor).find((one) => one.name === 'slow')?.id as string
    const before = book.db.$client.prepare('SELECT count(*) FROM vehicles').pluck().get()
    const payload = new PassThrough()
    payload.write('{"name": "Fern",')
    const headers = { authorization: `Bearer ${made}`, 'content-type': 'application/json', 'idempotency-key': 'slow' }
    const reply = book.app.inject({ method: 'POST', url: '/api/vehicles', headers, payload })
    await new Promise((resolve) => setTimeout(resolve, 50))
    expect(revokeToken(book.db, book.clock, book.actor, id)).toBe(true)
    payload.end('"systemVoltage_V": 12}')
    expect((await reply).statusCode).toBe(401)
    expect(book.db.$client.prepare('SELECT count(*) FROM vehicles').pluck().get()).toBe(before)
  })

  test('one that reads and is used to write: 403, nothing changed, and the owner can read it', async () => {
    const before = rowCounts(book.db)
    const writes = operations.filter((one) => one.writes)
    expect(writes.length).toBe(6)
    for (const { path, example } of writes) {
      const reply = await book.tell(placed(path, ownId(path)), example, { as: 'read' })
      expect(reply.statusCode, path).toBe(403)
    }
    expect(rowCounts(book.db)).toEqual(before)
    const noted = book.db.select().from(securityEvents).where(eq(securityEvents.kind, 'write-refused')).all()
    expect(noted.map((one) => one.says.split(':')[0])).toEqual(writes.map(({ path }) => `POST ${placed(path, ownId(path))}`))
  })

  test('in the address: 400, though the header holds a good one too', async () => {
    for (const query of [
      `token=${book.tokens.write}`,
      `access_token=${book.tokens.write}`,
      `Api_Key=x`,
      `limit=${book.tokens.read}`,
      `a=1&a=${book.tokens.read}`,
    ])
      for (const headers of [{}, { authorization: `Bearer ${book.tokens.write}` }] as Record<string, string>[]) {
        const reply = await book.app.inject({ url: `/api/vehicles?${query}`, headers: { ...headers } })
        expect(reply.statusCode, query).toBe(400)
        expect(reply.body).not.toContain(book.tokens.write)
      }
  })

  test('a token opens no page and no setting', async () => {
    for (const url of ['/', '/people', '/tokens', '/webhooks', '/security', '/api-guide', `/vehicles/${ids.vehicle}`])
      expect((await book.ask(url, { as: 'write' })).statusCode, url).toBe(303)
  })
})

describe('B3: another household’s ids', () => {
  test('answer like ids that nobody has, in every operation', async () => {
    const before = rowCounts(book.db)
    const withId = operations.filter(({ path }) => path.includes(':id'))
    expect(withId.length).toBe(14)
    for (const { method, path, example } of withId) {
      const send = (id: string) =>
        method === 'GET' ? book.ask(placed(path, id), { as: 'stranger' }) : book.tell(placed(path, id), example, { as: 'stranger' })
      const [theirs, nobodys] = [await send(ownId(path)), await send(newId(book.clock))]
      expect(theirs.statusCode, path).toBe(404)
      expect(theirs.body).toBe(nobodys.body)
    }
    expect(rowCounts(book.db)).toEqual(before)
    expect((await book.ask('/api/vehicles', { as: 'stranger' })).json()).toMatchObject({ items: [{ name: 'Elsewhere' }], next: null })
    expect((await book.ask('/api/parts', { as: 'stranger' })).json()).toEqual({ items: [], next: null })
  })

  test('a part of another household is not fitted, and a cursor of another vehicle is none', async () => {
    const fit = { kind: 'fitted', component: { key: 'lent', name: 'Lent', part: ids.part } }
    const mine = ((await book.ask('/api/vehicles', { as: 'stranger' })).json() as { items: { id: string }[] }).items[0]?.id
    const reply = await book.tell(`/api/vehicles/${mine}/entries`, { ...ENTRY, changes: [fit] }, { as: 'stranger' })
    expect(reply.statusCode).toBe(409)
    const other = await book.ask(`/api/vehicles/${book.vehicles[1]}/entries?after=${ids.entry}`)
    expect(other.statusCode).toBe(422)
  })
})

describe('B4: fields that nobody asked for', () => {
  test.each([
    ['role', { role: 'owner' }],
    ['householdId', { householdId: '0190a000-0000-7000-8000-000000000001' }],
    ['household_id', { household_id: 2 }],
    ['id', { id: '0190a000-0000-7000-8000-000000000001' }],
    ['onceKey', { onceKey: 'x' }],
    ['recordedBy', { recordedBy: 'x' }],
  ])('%s is refused by name', async (field, more) => {
    const before = rowCounts(book.db)
    for (const [url, body] of [
      ['/api/vehicles', { name: 'Oak', systemVoltage_V: 12 }],
      [`/api/vehicles/${ids.vehicle}/entries`, ENTRY],
      ['/api/parts', { kind: 'fuse', name: 'Fuse', ratings: {} }],
      [`/api/parts/${ids.part}/revisions`, { name: 'Wire', ratings: {} }],
    ] as const) {
      const reply = await book.tell(url, { ...body, ...more })
      expect(reply.statusCode, url).toBe(422)
      expect((reply.json() as { faults: { field: string }[] }).faults.map((one) => one.field)).toContain(field)
    }
    expect(rowCounts(book.db)).toEqual(before)
  })

  test('names that every object has are refused, wherever they stand', async () => {
    const before = rowCounts(book.db)
    for (const [body, status] of [
      ['{"name":"Oak","systemVoltage_V":12,"__proto__":{"role":"owner"}}', 400],
      ['{"name":"Oak","systemVoltage_V":12,"constructor":{"prototype":{"role":"owner"}}}', 400],
      ['{"name":"Oak","systemVoltage_V":12,"constructor":1}', 422],
      ['{"name":"Oak","systemVoltage_V":12,"toString":1}', 422],
    ] as const)
      expect((await book.tell('/api/vehicles', body)).statusCode, body).toBe(status)
    const part = { kind: 'fuse', name: 'Fuse', ratings: {}, evidence: { constructor: 'marked' } }
    expect((await book.tell('/api/parts', part)).statusCode).toBe(422)
    const left = { ...ENTRY, changes: [{ kind: 'described', vehicle: { leftOn: '2026-01-01' } }] }
    expect((await book.tell(`/api/vehicles/${ids.vehicle}/entries`, left)).statusCode).toBe(422)
    expect(rowCounts(book.db)).toEqual(before)
  })
})

describe('B25: limits, cursors and queries', () => {
  const lists = () =>
    operations.filter(({ method, query, path }) => method === 'GET' && query && !path.endsWith('/document')).map(({ path }) => path)

  test.each([
    ...['limit=0', 'limit=-1', 'limit=101', 'limit=1e9', 'limit=1.5', 'limit=abc', 'limit=', 'limit=1&limit=2', 'limit[]=1', 'limit[a]=1'],
    ...[
      'after=nothing',
      'after=',
      `after=${'a'.repeat(300)}`,
      'after=%00',
      "after=';drop table entries",
      'sort=id',
      'page=2',
      'household=2',
    ],
  ])('%s is refused in every list', async (query) => {
    for (const path of lists()) {
      const reply = await book.ask(`${placed(path, ownId(path))}?${query}`)
      expect(reply.statusCode, path).toBe(422)
      expect((reply.json() as { faults: unknown[] }).faults.length).toBeGreaterThan(0)
    }
  })

  test('days that are none, still to come or of another form, and other words, are refused', async () => {
    for (const query of [
      'on=2026-02-30',
      'on=0000-01-01',
      'on=9999-12-31',
      'on=03.05.2026',
      'on=',
      'on=2026-05-03&on=2026-05-04',
      'on[]=x',
    ])
      for (const path of ['document', 'findings']) {
        const reply = await book.ask(`/api/vehicles/${ids.vehicle}/${path}?${query}`)
        expect(reply.statusCode, `${path} ${query}`).toBe(422)
        expect((reply.json() as { faults: { field: string }[] }).faults[0]?.field).toMatch(/^on/)
      }
    for (const query of ['verdict=fine', 'verdict=', `rule=${'r'.repeat(81)}`])
      expect((await book.ask(`/api/vehicles/${ids.vehicle}/findings?${query}`)).statusCode, query).toBe(422)
    for (const url of [`/api/vehicles/${ids.vehicle}`, `/api/entries/${ids.entry}`, `/api/photos/${ids.photo}/original`])
      expect((await book.ask(`${url}?edit=1`)).statusCode, url).toBe(422)
  })

  test('walked from end to end by next, each thing comes once, whatever the limit', async () => {
    for (const path of [
      '/api/vehicles',
      '/api/parts',
      `/api/vehicles/${ids.vehicle}/entries`,
      `/api/vehicles/${ids.vehicle}/findings?verdict=clear`,
      `/api/vehicles/${ids.vehicle}/readings`,
    ]) {
      const walk = async (limit: number) => {
        const seen: string[] = []
        let next: string | null = `${path}${path.includes('?') ? '&' : '?'}limit=${limit}`
        while (next !== null) {
          const reply = (await book.ask(next)).json() as { items: unknown[]; next: string | null }
          expect(reply.items.length).toBeLessThanOrEqual(limit)
          seen.push(...reply.items.map((item) => JSON.stringify(item)))
          next = reply.next
        }
        return seen
      }
      const [whole, pieces] = [await walk(100), await walk(7)]
      expect(whole.length, path).toBeGreaterThan(1)
      expect(new Set(whole).size).toBe(whole.length)
      // The smallest remedy is worked out for so many of a piece only: what it is about is compared.
      const bare = (items: string[]) => items.map((item) => ({ ...(JSON.parse(item) as object), remedy: '' }))
      expect(bare(pieces)).toEqual(bare(whole))
    }
  })
})

test('B33: headers that pages heed change nothing here, and are not sent back', async () => {
  const odd = {
    'hx-request': 'true',
    'hx-target': '<script>alert(1)</script>',
    'hx-current-url': 'https://evil.example/',
    accept: 'text/html',
    'x-forwarded-host': 'evil.example',
    'x-http-method-override': 'DELETE',
    origin: 'https://evil.example',
    'sec-fetch-site': 'cross-site',
  }
  for (const url of ['/api/vehicles', `/api/entries/${ids.entry}`, '/api/nothing']) {
    const [plain, strange] = [await book.ask(url), await book.ask(url, { headers: odd })]
    expect([strange.statusCode, strange.body]).toEqual([plain.statusCode, plain.body])
    expect(JSON.stringify(strange.headers)).not.toContain('evil')
  }
  expect((await book.app.inject({ url: '/api/vehicles', headers: odd })).statusCode).toBe(401)
  expect((await book.tell('/api/vehicles', { name: 'Ash', systemVoltage_V: 12 }, { headers: odd })).statusCode).toBe(201)
  // Whatever is in a text comes back as JSON that no browser takes for a page.
  const name = '<script>alert(1)</script>'
  const made = await book.tell('/api/vehicles', { name, systemVoltage_V: 12 })
  expect(made.json()).toMatchObject({ name })
  expect(made.headers['content-type']).toBe('application/json; charset=utf-8')
  expect(made.headers['x-content-type-options']).toBe('nosniff')
})

describe('bodies', () => {
  test('what is too large, too deep, or no JSON is refused, and nothing is kept', async () => {
    const before = rowCounts(book.db)
    const deep = `${'['.repeat(100_000)}${']'.repeat(100_000)}`
    const said: readonly (readonly [unknown, number, Record<string, string>?])[] = [
      [`"${'a'.repeat(2 * 1024 * 1024)}"`, 413],
      [deep, 400],
      [`{"name":${deep}}`, 400],
      ['{"name":"Oak",', 400],
      ['', 400],
      ['{"name":"Oak\\u0000","systemVoltage_V":12}', 422],
      ['{"name":"Oak\\ud800","systemVoltage_V":12}', 422],
      ['{"name":"Oak","systemVoltage_V":1e999}', 422],
      ['{"name":"Oak","systemVoltage_V":"12"}', 422],
      ['name=Oak&systemVoltage_V=12', 415, { 'content-type': 'application/x-www-form-urlencoded' }],
      ['<a/>', 415, { 'content-type': 'application/xml' }],
      ['--x\r\n', 415, { 'content-type': 'multipart/form-data; boundary=x' }],
      ['{}', 415, { 'content-type': 'text/plain' }],
    ]
    for (const url of ['/api/vehicles', '/api/checks'])
      for (const [body, status, headers] of said) {
        const reply = await book.tell(url, body, headers ? { headers } : {})
        const isOdd = url === '/api/checks' && status === 422
        expect(reply.statusCode, `${url} ${String(body).slice(0, 40)}`).toBe(isOdd ? 422 : status)
        expect(reply.headers['content-type']).toBe('application/problem+json; charset=utf-8')
      }
    expect(rowCounts(book.db)).toEqual(before)
  })

  test('RFC 9110, 15.5.16: packed, or in other letters than UTF-8, 415, with what would be taken; nothing is kept', async () => {
    const before = rowCounts(book.db)
    const body = JSON.stringify({ name: 'Oak', systemVoltage_V: 12 })
    for (const url of ['/api/vehicles', '/api/checks'])
      for (const [headers, taken] of [
        [{ 'content-encoding': 'gzip' }, 'identity'],
        [{ 'content-encoding': 'Identity, br' }, 'identity'],
        [{ 'content-type': 'application/json; charset=utf-16' }, undefined],
        [{ 'content-type': 'application/json;x=1; Charset="ISO-8859-1"' }, undefined],
        [{ 'content-type': 'application/json; charset=' }, undefined],
      ] as readonly (readonly [Record<string, string>, string | undefined])[]) {
        const reply = await book.tell(url, body, { headers })
        expect([reply.statusCode, reply.headers['accept-encoding']], JSON.stringify(headers)).toEqual([415, taken])
        expect(reply.headers['content-type']).toBe('application/problem+json; charset=utf-8')
        expect(reply.json()).toMatchObject({ type: '/api-guide#not-taken', status: 415 })
      }
    expect(rowCounts(book.db)).toEqual(before)
    const stranger = { 'content-type': 'application/json', 'content-encoding': 'gzip' }
    expect((await book.app.inject({ method: 'POST', url: '/api/vehicles', headers: stranger, payload: body })).statusCode).toBe(401)
    for (const headers of [{ 'content-type': 'application/json; charset=UTF-8' }, { 'content-encoding': 'identity' }] as Record<
      string,
      string
    >[])
      expect((await book.tell('/api/vehicles', body, { headers })).statusCode).toBe(201)
  })

  test('the faults of a document are named by their paths', async () => {
    const reply = await book.tell('/api/checks', {
      format: 'loombook-vehicle/1',
      vehicle: { name: 'Fern' },
      parts: [],
      components: [],
      joins: 1,
    })
    expect(reply.statusCode).toBe(422)
    const fields = (reply.json() as { faults: { field: string }[] }).faults.map((one) => one.field)
    expect(fields).toEqual(expect.arrayContaining(['vehicle.systemVoltage_V', 'joins']))
  })

  test('more components than are judged at once are refused before they are judged', async () => {
    const components = Array.from({ length: 2001 }, (_, n) => ({ key: `g${n}`, name: 'Ground', part: 'ring' }))
    const parts = [{ key: 'ring', kind: 'ground-point', name: 'Ring', ratings: {} }]
    const document = { format: 'loombook-vehicle/1', vehicle: { name: 'Fern', systemVoltage_V: 12 }, parts, components, joins: [] }
    expect((await book.tell('/api/checks', document)).statusCode).toBe(413)
    const conditions = Array.from({ length: 401 }, (_, n) => ({ key: `c${n}`, name: 'Parked', engine: 'off' }))
    const [most, more] = [400, 401].map((count) => ({
      ...document,
      components: components.slice(0, 100),
      conditions: conditions.slice(0, count),
    }))
    expect((await book.tell('/api/checks', most)).statusCode).toBe(200)
    expect((await book.tell('/api/checks', more)).statusCode).toBe(413)
  })
})

describe('photos', () => {
  test('the original is what was sent, as a file to keep; the picture holds nothing of what the camera noted', async () => {
    const original = await book.ask(`/api/photos/${ids.photo}/original`)
    expect(original.statusCode).toBe(200)
    expect(original.rawPayload.includes('Fern and Sons')).toBe(true)
    expect(original.headers).toMatchObject({
      'content-type': 'image/jpeg',
      'x-content-type-options': 'nosniff',
      'content-disposition': `attachment; filename="${ids.photo}.jpeg"`,
      'content-security-policy': "default-src 'none'; sandbox",
    })
    const picture = await book.ask(`/api/photos/${ids.photo}/picture`)
    expect(picture.headers['content-type']).toBe('image/webp')
    expect(picture.rawPayload.subarray(8, 12).toString()).toBe('WEBP')
    expect(picture.rawPayload.includes('Fern and Sons')).toBe(false)
  })

  test('what is in the trash is not there for programs', async () => {
    await book.post(`/photos/${ids.photo}/trash`, {})
    for (const end of ['original', 'picture']) expect((await book.ask(`/api/photos/${ids.photo}/${end}`)).statusCode).toBe(404)
    expect((await book.ask(`/api/vehicles/${ids.vehicle}/photos`)).json()).toEqual({ items: [], next: null })
    await book.post(`/photos/${ids.photo}/restorations`, {})
  })
})

test('while something is wrong with what is kept nothing is added, and reading goes on', async () => {
  const failed = { startedAt: '2026-11-25T03:00:00.000Z', endedAt: '2026-11-25T03:00:01.000Z', result: 'failed' as const }
  book.db
    .insert(jobs)
    .values({ name: 'sanity', ...failed, says: 'Records: one row is not as it was written.' })
    .run()
  const before = rowCounts(book.db)
  for (const { path, example } of operations.filter((one) => one.writes))
    expect((await book.tell(placed(path, ownId(path)), example)).statusCode, path).toBe(503)
  expect(rowCounts(book.db)).toEqual(before)
  expect((await book.ask('/api/vehicles')).statusCode).toBe(200)
  book.db.delete(jobs).run()
})
