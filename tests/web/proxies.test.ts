import { mkdtempSync, rmSync } from 'node:fs'
import { type AddressInfo, connect } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { FastifyRequest } from 'fastify'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { buildApp } from '../../server/app.ts'
import { type Config, networks } from '../../server/config.ts'
import { fixedClock } from '../../server/records/clock.ts'
import { openDatabase } from '../../server/records/database.ts'
import { createOwner } from '../../server/records/people.ts'
import { relyingParty } from '../../server/web/relying-party.ts'
import { type Book, openBook, TODAY } from '../pages/book.ts'

const PROXY = '10.0.0.2'
const STRANGER = '203.0.113.9'
const books: Book[] = []
const folder = mkdtempSync(join(tmpdir(), 'loombook-proxies-'))
const open = async (config: Partial<Config>) => {
  const book = await openBook({ demo: false, config })
  books.push(book)
  return book
}
let trusting: Book
let plain: Book
let configured: Book
let strict: Book

beforeAll(async () => {
  trusting = await open({ trustedProxies: networks([PROXY, '10.0.1.0/24']) })
  plain = await open({})
  configured = await open({ baseUrl: 'https://garage.example/loom', basePath: '/loom' })
  strict = await open({ hosts: ['garage.example', '192.168.1.5:8180'] })
})
afterAll(async () => {
  for (const book of books) await book.close()
  rmSync(folder, { recursive: true })
})

/** The address that a refused form is noted with. */
async function seenFrom(book: Book, from: string, headers: Record<string, string>): Promise<string> {
  await book.app.inject({
    method: 'POST',
    url: '/settings/checks',
    remoteAddress: from,
    headers: { cookie: book.cookie, 'content-type': 'application/x-www-form-urlencoded', ...headers },
    payload: '_token=wrong',
  })
  return book.db.$client.prepare('SELECT address FROM security_events ORDER BY id DESC LIMIT 1').pluck().get() as string
}

describe('who is asking', () => {
  test.each([
    ['nobody trusted: the header is ignored', 'plain', STRANGER, '198.51.100.7', STRANGER],
    ['nobody trusted, not even this machine', 'plain', '127.0.0.1', '198.51.100.7', '127.0.0.1'],
    ['a stranger’s word among trusted proxies', 'trusting', STRANGER, '198.51.100.7', STRANGER],
    ['the proxy’s word', 'trusting', PROXY, '198.51.100.7', '198.51.100.7'],
    ['right to left: what the caller wrote before is not believed', 'trusting', PROXY, '1.2.3.4, 198.51.100.7', '198.51.100.7'],
    ['through two proxies of ours', 'trusting', PROXY, '1.2.3.4, 198.51.100.7, 10.0.1.9', '198.51.100.7'],
    ['an address of ours that the caller wrote', 'trusting', PROXY, '10.0.1.9, 198.51.100.7', '198.51.100.7'],
    ['no header', 'trusting', PROXY, '', PROXY],
  ] as const)('%s', async (_, which, from, header, seen) => {
    const book = which === 'plain' ? plain : trusting
    expect(await seenFrom(book, from, header === '' ? {} : { 'x-forwarded-for': header })).toBe(seen)
  })

  test('B5: a rotating X-Forwarded-For from who is not trusted is one address', async () => {
    const seen = new Set<string>()
    for (let n = 1; n <= 20; n++) seen.add(await seenFrom(plain, STRANGER, { 'x-forwarded-for': `198.51.100.${n}` }))
    expect([...seen]).toEqual([STRANGER])
  })
})

describe('the scheme', () => {
  const secure = async (book: Book, from: string, headers: Record<string, string>) =>
    String((await book.app.inject({ url: '/login', remoteAddress: from, headers })).headers['set-cookie']).includes('Secure')

  test('cookies are Secure where a trusted proxy says https, and not where anybody else does', async () => {
    expect(await secure(trusting, PROXY, { 'x-forwarded-proto': 'https' })).toBe(true)
    expect(await secure(trusting, PROXY, { 'x-forwarded-proto': 'http' })).toBe(false)
    expect(await secure(trusting, PROXY, {})).toBe(false)
    expect(await secure(trusting, STRANGER, { 'x-forwarded-proto': 'https' })).toBe(false)
    expect(await secure(plain, '127.0.0.1', { 'x-forwarded-proto': 'https' })).toBe(false)
  })
})

/** The session as browsers send it: by https it has another name. */
const cookiesOf = (book: Book) => `${book.cookie}; __Host-${book.cookie}`

/** The link of an invitation just made. */
async function linkOf(book: Book, from: string, headers: Record<string, string>): Promise<string> {
  const { basePath = '' } = book.app.config
  const made = await book.app.inject({
    method: 'POST',
    url: `${basePath}/people/invitations`,
    remoteAddress: from,
    headers: { cookie: cookiesOf(book), 'content-type': 'application/x-www-form-urlencoded', ...headers },
    payload: new URLSearchParams({ _token: book.token, role: 'viewer' }).toString(),
  })
  return /<p class="mono">([^<]+)<\/p>/.exec(made.body)?.[1] ?? ''
}

describe('B8: links that leave the house', () => {
  const evil = { host: 'evil.example', 'x-forwarded-host': 'evil.example', 'x-forwarded-proto': 'https' }

  test('begin with the configured address, whatever the request says', async () => {
    for (const headers of [{}, evil])
      expect(await linkOf(configured, STRANGER, headers)).toMatch(/^https:\/\/garage\.example\/loom\/join\//)
    const feed = await configured.post('/loom/feeds', { kind: 'due' }, evil)
    expect(feed.body).toContain('https://garage.example/loom/feeds/')
    expect(feed.body).not.toContain('evil')
  })

  test('X-Forwarded-Host is believed from a trusted proxy only', async () => {
    const headers = { host: 'inside:8180', 'x-forwarded-host': 'garage.example', 'x-forwarded-proto': 'https' }
    expect(await linkOf(trusting, PROXY, headers)).toMatch(/^https:\/\/garage\.example\/join\//)
    expect(await linkOf(trusting, STRANGER, headers)).toMatch(/^http:\/\/inside:8180\/join\//)
  })

  test('another name than the configured ones is answered 421, and nothing is set', async () => {
    for (const host of ['evil.example', 'garage.example.evil', '192.168.1.5', '127.0.0.1:8180', '']) {
      const reply = await strict.app.inject({ url: '/login', headers: { host } })
      expect(reply.statusCode, host).toBe(421)
      expect(reply.headers['set-cookie']).toBeUndefined()
      expect(reply.body).not.toContain('evil')
    }
    for (const host of ['garage.example', 'GARAGE.example', '192.168.1.5:8180'])
      expect((await strict.app.inject({ url: '/login', headers: { host } })).statusCode, host).toBe(200)
    expect((await strict.app.inject({ url: '/healthz', headers: { host: '127.0.0.1' } })).statusCode).toBe(200)
  })

  test('a form from the configured site is ours though the proxy put another name into Host', async () => {
    const send = (origin: string) =>
      configured.post('/loom/vehicles', { name: 'Fern', systemVoltage_V: '12' }, { origin, host: 'inside:8180' })
    expect((await send('https://garage.example')).statusCode).toBe(303)
    expect((await send('https://evil.example')).statusCode).toBe(403)
    expect((await send('null')).statusCode).toBe(403)
  })
})

describe('the site that passkeys are made for', () => {
  const partyOf = async (book: Book, from: string, headers: Record<string, string>) => {
    const url = `${book.app.config.basePath ?? ''}/account/passkeys/new`
    const { body } = await book.app.inject({ url, remoteAddress: from, headers: { cookie: cookiesOf(book), ...headers } })
    const options = /data-options="([^"]*)"/.exec(body)?.[1]?.replaceAll('&quot;', '"')
    return options === undefined ? null : (JSON.parse(options) as { rp: { id: string } }).rp.id
  }

  test('is the configured one, also behind a proxy that is not named and puts a name of its own into Host', async () => {
    for (const host of ['garage.example', 'inside:8180', '192.168.1.5:8180'])
      expect(await partyOf(configured, STRANGER, { host }), host).toBe('garage.example')
  })

  test('else is as the request has it: by https or on this machine, and no bare address', async () => {
    const https = { host: 'garage.example', 'x-forwarded-proto': 'https' }
    expect(await partyOf(trusting, PROXY, https)).toBe('garage.example')
    expect(await partyOf(trusting, STRANGER, https)).toBeNull()
    expect(await partyOf(plain, '127.0.0.1', { host: 'localhost:8180' })).toBe('localhost')
    for (const host of ['127.0.0.1:8180', '[::1]:8180', 'inside:8180', 'not a host', 'inside:99999'])
      expect(await partyOf(plain, '127.0.0.1', { host }), host).toBeNull()
  })

  test('its origin is written as browsers write it', () => {
    const asked = (baseUrl: string) => relyingParty({ server: { config: { baseUrl } } } as FastifyRequest)
    expect(asked('https://GARAGE.example:443/loom')).toEqual({ id: 'garage.example', origin: 'https://garage.example' })
    expect(asked('https://garage.example:8443')).toEqual({ id: 'garage.example', origin: 'https://garage.example:8443' })
    expect(asked('http://garage.example')).toBeNull()
  })
})

describe('the first run', () => {
  test('is free from this machine, but not through a proxy on it that nobody trusts', async () => {
    const app = await buildApp({
      db: openDatabase(':memory:'),
      clock: fixedClock(`${TODAY}T12:00:00Z`),
      config: { data: folder, host: '127.0.0.1', port: 0, timeZone: 'UTC' },
    })
    const asksCode = async (remoteAddress: string, headers: Record<string, string>) =>
      (await app.inject({ url: '/first-run', remoteAddress, headers })).body.includes('name="code"')
    expect(await asksCode('127.0.0.1', {})).toBe(false)
    expect(await asksCode('::1', {})).toBe(false)
    expect(await asksCode('192.168.1.9', {})).toBe(true)
    for (const name of ['x-forwarded-for', 'x-real-ip', 'forwarded', 'via']) expect(await asksCode('127.0.0.1', { [name]: 'x' })).toBe(true)
    await app.close()
  })

  test('nor through one that says nothing of itself: it speaks HTTP/1.0, or is the one that is trusted', async () => {
    const asksCode = async (bytes: string, config: Partial<Config>) => {
      const app = await buildApp({
        db: openDatabase(':memory:'),
        clock: fixedClock(`${TODAY}T12:00:00Z`),
        config: { data: folder, host: '127.0.0.1', port: 0, timeZone: 'UTC', ...config },
      })
      await app.listen({ host: '127.0.0.1', port: 0 })
      const socket = connect((app.server.address() as AddressInfo).port, '127.0.0.1')
      socket.write(bytes)
      let heard = ''
      for await (const piece of socket) heard += String(piece)
      await app.close()
      expect(heard).toContain('Set up Loombook')
      return heard.includes('name="code"')
    }
    const ask = (version: string) => `GET /first-run HTTP/${version}\r\nHost: 127.0.0.1:8180\r\nConnection: close\r\n\r\n`
    expect(await asksCode(ask('1.1'), {})).toBe(false)
    expect(await asksCode(ask('1.0'), {})).toBe(true)
    expect(await asksCode(ask('1.1'), { trustedProxies: networks(['127.0.0.1']) })).toBe(true)
  })
})

describe('measures', () => {
  const ask = async (config: Partial<Config>, remoteAddress: string, headers: Record<string, string> = {}) => {
    const db = openDatabase(':memory:')
    const clock = fixedClock(`${TODAY}T12:00:00Z`)
    createOwner(db, clock, { name: 'Owner', password: 'a long enough word' })
    const app = await buildApp({ db, clock, config: { data: folder, host: '127.0.0.1', port: 0, timeZone: 'UTC', ...config } })
    await app.inject('/login')
    await app.inject('/login?next=/join/very-secret')
    const reply = await app.inject({ url: '/metrics', remoteAddress, headers })
    await app.close()
    return reply
  }
  const token = 'correct-horse-battery-staple'

  test('are not there unless asked for', async () => {
    expect((await ask({}, '127.0.0.1')).statusCode).not.toBe(200)
  })

  test('are told to the networks and the token that were named, in the text format, without a secret', async () => {
    const metrics = { networks: networks(['192.168.1.0/24']), token }
    const told = await ask({ metrics }, '192.168.1.7')
    expect(told.statusCode).toBe(200)
    expect(told.headers['content-type']).toMatch(/^text\/plain; version=/)
    expect(told.body).toMatch(/^loombook_http_request_duration_seconds_count\{method="GET",route="\/login",status="2xx"\} 2$/m)
    expect(told.body).toMatch(/^loombook_free_bytes \d+$/m)
    // Every line is a comment or a sample: name, labels, a number as Go's ParseFloat reads it (Prometheus text exposition format 0.0.4).
    const sample = /^[a-zA-Z_:][\w:]*(\{[a-zA-Z_]\w*="[^"\n]*"(,[a-zA-Z_]\w*="[^"\n]*")*\})? ([-+]?[\d.e+-]+|N[aA][nN]|[+-]?Inf)$/
    const strange = told.body.split('\n').filter((line) => line !== '' && !line.startsWith('# ') && !sample.test(line))
    expect(strange).toEqual([])
    expect(told.body).not.toContain('very-secret')
    expect((await ask({ metrics }, STRANGER, { authorization: `Bearer ${token}` })).statusCode).toBe(200)
  })

  test.each([
    ['from elsewhere', STRANGER, {}],
    ['with a wrong token', STRANGER, { authorization: `Bearer ${token}x` }],
    ['with a token as it is not sent', STRANGER, { authorization: token }],
    ['through a proxy that nobody trusts', '192.168.1.7', { 'x-forwarded-for': '192.168.1.8' }],
  ])('are refused %s', async (_, from, headers) => {
    const metrics = { networks: networks(['192.168.1.0/24']), token }
    const reply = await ask({ metrics }, from, headers as unknown as Record<string, string>)
    expect(reply.statusCode).toBe(403)
    expect(reply.body).not.toContain('loombook')
  })
})
