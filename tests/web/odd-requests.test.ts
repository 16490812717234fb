import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { connect } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import fastify from 'fastify'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { buildApp } from '../../server/app.ts'
import { fixedClock } from '../../server/records/clock.ts'
import { closeDatabase, type Db, openDatabase } from '../../server/records/database.ts'
import { noteSecurity } from '../../server/records/security-log.ts'
import { errorPages } from '../../server/web/error-pages.ts'
import { loggedAddress } from '../../server/web/logged-address.ts'
import { type Book, openBook, TODAY } from '../pages/book.ts'
import { faultsOf } from '../pages/markup.ts'

const clock = fixedClock(`${TODAY}T12:00:00Z`)
const { version } = JSON.parse(readFileSync(join(import.meta.dirname, '../../package.json'), 'utf8')) as { version: string }
const root = join(import.meta.dirname, '../..')
let book: Book
beforeAll(async () => {
  book = await openBook({ demo: false })
})
afterAll(() => book.close())

/** A page in plain words that gives nothing away: no version, no path of this machine, no trace; and the request's id. */
function isPlain(body: string): void {
  expect(faultsOf(body)).toEqual([])
  expect(body).toMatch(/request <span class="mono">[0-9a-f]{12}<\/span>/)
  for (const secret of [version, root, book.data, 'node_modules', 'fastify', 'SQLITE', 'Error:', '\n    at '])
    expect(body, secret).not.toContain(secret)
}

describe('B40: error pages', () => {
  test.each(['/%zz', '/vehicles/%', '/%E0%A4%A', '/%c3%28', '/static/%ff'])('an address that cannot be read: %s', async (url) => {
    const reply = await book.get(url)
    expect(reply.statusCode).toBe(400)
    isPlain(reply.body)
  })

  test('an address of five thousand letters', async () => {
    const reply = await book.get(`/${'a'.repeat(5000)}`)
    expect(reply.statusCode).toBe(414)
    isPlain(reply.body)
    expect(reply.body.length).toBeLessThan(5000)
  })

  test('an address that there is not', async () => {
    const reply = await book.get('/no/such/place')
    expect(reply.statusCode).toBe(404)
    isPlain(reply.body)
  })

  test('an address with a piece that is longer than any of ours', async () => {
    for (const url of [`/vehicles/${'a'.repeat(200)}`, `/entries/${'%F0%9F%9A%97'.repeat(60)}`, `/join/${'a'.repeat(101)}`]) {
      const reply = await book.get(url)
      expect([url.slice(0, 12), reply.statusCode]).toEqual([url.slice(0, 12), 404])
      isPlain(reply.body)
      expect(reply.headers['content-security-policy'], url.slice(0, 12)).toContain("default-src 'none'")
    }
  })

  test('a body that is no form: no page takes one, whatever is in it', async () => {
    const bodies = [
      ['application/json', JSON.stringify({ _token: book.token, name: [{ toString: 1 }], password: [{ toString: 1 }] })],
      ['application/json', '{"__proto__": {"x": 1}}'],
      ['text/plain', `_token=${book.token}&name=Fern`],
    ] as const
    for (const url of ['/sessions', '/vehicles', '/confirm', '/people/invitations'])
      for (const [type, payload] of bodies) {
        const headers = { cookie: book.cookie, 'content-type': type, 'x-form-token': book.token }
        const reply = await book.app.inject({ method: 'POST', url, headers, payload })
        expect([url, type, reply.statusCode]).toEqual([url, type, 415])
        isPlain(reply.body)
        expect(reply.body).toContain('This is not a form. Nothing was saved.')
      }
    expect((await book.get('/people')).body).not.toContain('/people/invitations/')
  })

  test('RFC 9110, 15.5.16: a form that is packed, or in other letters than UTF-8: 415, and nothing is saved', async () => {
    const payload = new URLSearchParams({ _token: book.token, name: 'Fern', systemVoltage_V: '12' }).toString()
    const form = 'application/x-www-form-urlencoded'
    for (const [headers, taken] of [
      [{ 'content-type': form, 'content-encoding': 'gzip' }, 'identity'],
      [{ 'content-type': `${form}; charset=utf-16` }, undefined],
      [{ 'content-type': 'multipart/form-data; charset=utf-16; boundary=x' }, undefined],
    ] as readonly (readonly [Record<string, string>, string | undefined])[]) {
      const reply = await book.app.inject({ method: 'POST', url: '/vehicles', headers: { cookie: book.cookie, ...headers }, payload })
      expect([reply.statusCode, reply.headers['accept-encoding']]).toEqual([415, taken])
      isPlain(reply.body)
      expect(reply.body).toContain('Nothing was saved.')
    }
    const headers = { cookie: book.cookie, 'content-type': `${form}; charset=UTF-8` }
    expect((await book.app.inject({ method: 'POST', url: '/vehicles', headers, payload })).statusCode).toBe(303)
  })

  test('the database held by another program: 503, and when to come again; afterwards all is well', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'loombook-held-'))
    const file = join(folder, 'loombook.sqlite')
    const held = await openFileBook(file)
    const other = new Database(file)
    held.db.$client.pragma('busy_timeout = 20')
    other.exec('BEGIN IMMEDIATE')
    const fields = { _token: held.token, name: 'Owner', password: 'a long enough word' }
    const reply = await held.post('/sessions', fields)
    expect(reply.statusCode).toBe(503)
    expect(reply.headers['retry-after']).toBe('5')
    isPlain(reply.body)
    expect((await held.app.inject('/readyz')).statusCode).toBe(503)
    expect((await held.app.inject('/healthz')).statusCode).toBe(200)
    other.exec('ROLLBACK')
    other.close()
    expect((await held.post('/sessions', fields)).statusCode).toBe(303)
    await held.app.close()
    closeDatabase(held.db)
    rmSync(folder, { recursive: true })
  })

  test('a fault of ours is told in plain words and none of its own, and stands in the log', async () => {
    const lines: string[] = []
    const faulty = fastify({ logger: { stream: { write: (text: string) => lines.push(text) } } })
    await faulty.register(errorPages, { isFull: () => false, isDamage: () => false, isInUse: () => false })
    faulty.get('/', async () => {
      throw new Error(`no such column: password_hash in ${root}`)
    })
    const reply = await faulty.inject({ url: '/', headers: { accept: 'application/json' } })
    expect([reply.statusCode, reply.json()]).toEqual([500, { says: 'Something went wrong on our side. Nothing was saved.' }])
    expect(lines.join('')).toContain('no such column: password_hash')
    await faulty.close()
  })

  test('what is not http is answered without a word on what runs here', async () => {
    const address = await book.app.listen({ host: '127.0.0.1', port: 0 })
    for (const bytes of ['NONSENSE\r\n\r\n', 'GET / HTTP/9.9\r\n\r\n', 'GET / HTTP/1.1\r\n\r\n']) {
      const answer = await raw(Number(new URL(address).port), bytes)
      expect(answer).toMatch(/^HTTP\/1\.1 400 /)
      for (const secret of ['fastify', 'node', version, root]) expect(answer.toLowerCase()).not.toContain(secret)
    }
  })
})

test('machines that watch are told yes or no, and nothing more; no cookie is set', async () => {
  for (const [url, body] of [
    ['/healthz', 'ok\n'],
    ['/readyz', 'ready\n'],
  ] as const) {
    const reply = await book.app.inject(url)
    expect([reply.statusCode, reply.body, reply.headers['set-cookie']]).toEqual([200, body, undefined])
  }
})

describe('B39: nothing that is sent makes a line of its own in a log', () => {
  test('in an address, a name, a browser’s name: each line is one record of JSON', async () => {
    const lines: string[] = []
    const app = await buildApp({
      db: book.db,
      clock,
      config: { data: book.data, host: '127.0.0.1', port: 0, timeZone: 'UTC' },
      log: { write: (text) => lines.push(text) },
    })
    const forged = '\n{"level":60,"msg":"forged"}\r\n'
    await app.inject({ url: `/search?q=${encodeURIComponent(forged)}`, headers: { 'user-agent': `x${forged}` } })
    await app.inject({ url: `/${encodeURIComponent(forged)}` })
    await app.inject({
      method: 'POST',
      url: '/sessions',
      headers: { 'content-type': 'application/x-www-form-urlencoded' },
      payload: new URLSearchParams({ name: forged, password: 'x' }).toString(),
    })
    expect(lines.length).toBeGreaterThanOrEqual(3)
    for (const line of lines) {
      expect(line.indexOf('\n')).toBe(line.length - 1)
      expect(JSON.parse(line).level).toBeLessThan(60)
    }
    await app.close()
  })

  test('nor in the log of what concerned security', () => {
    noteSecurity(book.db, clock, { kind: 'signed-in', says: 'a\n{"kind":"x"}\r\u2028b\u202e' })
    const says = book.db.$client.prepare('SELECT says FROM security_events ORDER BY id DESC LIMIT 1').pluck().get()
    expect(says).toBe('a {"kind":"x"}  b ')
  })
})

test('tokens in addresses, and what was asked for, are not logged; nor is a header that holds one', async () => {
  for (const [url, told] of [
    ['/b/very-secret', '/b/(token)'],
    ['/b/very-secret/p/3', '/b/(token)/p/3'],
    ['/feeds/revocations', '/feeds/revocations'],
    ['/join/very-secret', '/join/(token)'],
    ['/feeds/very-secret.ics', '/feeds/(token).ics'],
    ['/login?next=%2Fjoin%2Fvery-secret', '/login?…'],
    ['/search?q=very-secret', '/search?…'],
  ] as const)
    expect(loggedAddress(url)).toBe(told)
  const lines: string[] = []
  const app = await buildApp({
    db: book.db,
    clock,
    config: { data: book.data, host: '127.0.0.1', port: 0, timeZone: 'UTC', logLevel: 'debug' },
    log: { write: (text) => lines.push(text) },
  })
  const headers = { cookie: 'loombook_session=very-secret', authorization: 'Bearer very-secret', 'x-form-token': 'very-secret' }
  for (const url of ['/join/very-secret', '/b/very-secret', '/api/vehicles', '/login?next=/b/very-secret', '/b/very-secret%zz'])
    await app.inject({ url, headers })
  await app.inject({ method: 'POST', url: '/sessions', headers, payload: { password: 'very-secret' } })
  expect(lines.join('')).toContain('/join/(token)')
  expect(lines.join('')).not.toContain('very-secret')
  await app.close()
})

/** Loombook over a file, nobody signed in. */
async function openFileBook(file: string) {
  const db: Db = openDatabase(file)
  const { createOwner } = await import('../../server/records/people.ts')
  createOwner(db, clock, { name: 'Owner', password: 'a long enough word' })
  const app = await buildApp({ db, clock, config: { data: join(file, '..'), host: '127.0.0.1', port: 0, timeZone: 'UTC' } })
  const door = await app.inject('/login')
  const cookie = String(door.headers['set-cookie']).split(';')[0] as string
  const token = /name="_token" value="([^"]+)"/.exec(door.body)?.[1] ?? ''
  const post = (url: string, fields: Record<string, string>) =>
    app.inject({
      method: 'POST',
      url,
      headers: { cookie, 'content-type': 'application/x-www-form-urlencoded' },
      payload: new URLSearchParams(fields).toString(),
    })
  return { db, app, token, post }
}

function raw(port: number, bytes: string): Promise<string> {
  return new Promise((resolve) => {
    let answer = ''
    const socket = connect(port, '127.0.0.1', () => socket.end(bytes))
    socket.on('data', (chunk) => {
      answer += chunk
    })
    socket.on('close', () => resolve(answer))
    socket.on('error', () => resolve(answer))
  })
}
