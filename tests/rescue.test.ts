/** The one page beside a damaged database: the door before it is the house's own. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { type AddressInfo, connect } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, afterEach, describe, expect, test } from 'vitest'
import { type Config, networks } from '../server/config.ts'
import { fixedClock } from '../server/records/clock.ts'
import { buildRescue } from '../server/rescue.ts'
import { startServer } from './running/server.ts'
import { faultsOf } from './pages/markup.ts'

const data = mkdtempSync(join(tmpdir(), 'loombook-rescue-'))
const clock = fixedClock('2026-11-27T12:00:00Z')
const closing: (() => Promise<unknown>)[] = []
afterEach(async () => {
  for (const close of closing.splice(0)) await close()
})
afterAll(() => rmSync(data, { recursive: true, force: true }))

async function rescue(more: Partial<Config> = {}) {
  const lines: string[] = []
  const config: Config = { data, host: '127.0.0.1', port: 0, timeZone: 'UTC', logLevel: 'info', ...more }
  const { app, code } = await buildRescue({ clock, config, log: { write: (line) => void lines.push(line) }, restart: () => {} })
  closing.push(() => app.close())
  const send = (fields: Record<string, string>, headers: Record<string, string> = {}, remoteAddress = '192.0.2.1') =>
    app.inject({
      method: 'POST',
      url: '/rescue',
      remoteAddress,
      headers: { host: 'garage.example', 'content-type': 'application/x-www-form-urlencoded', ...headers },
      payload: new URLSearchParams(fields).toString(),
    })
  return { app, code, send, lines }
}

describe('nothing there tells where the records lie (B40)', () => {
  test.each(['/', '/vehicles/anything', '/readyz', '/healthz', '/%zz', '/api/vehicles', '/rescue'])('%s', async (url) => {
    const { app } = await rescue()
    expect((await app.inject(url)).body).not.toContain(data)
  })

  test('a probe is told no and nothing more', async () => {
    const { app } = await rescue()
    const reply = await app.inject('/readyz')
    expect([reply.statusCode, reply.body]).toEqual([503, 'not ready\n'])
  })

  test('an address that cannot be read is answered by a page', async () => {
    const { app } = await rescue()
    const reply = await app.inject('/%zz')
    expect([reply.statusCode, String(reply.headers['content-type']), faultsOf(reply.body)]).toEqual([400, 'text/html; charset=utf-8', []])
  })

  test('an address of five thousand letters too', async () => {
    const { app } = await rescue()
    const reply = await app.inject(`/${'a'.repeat(5000)}`)
    expect([reply.statusCode, faultsOf(reply.body)]).toEqual([414, []])
  })
})

describe('what is asked in another way', () => {
  test.each(['PUT', 'DELETE', 'OPTIONS', 'TRACE'] as const)('%s: 405, and what is answered (B35)', async (method) => {
    const { app } = await rescue()
    const reply = await app.inject({ method: method as 'PUT', url: '/vehicles' })
    expect([reply.statusCode, reply.headers.allow]).toEqual([405, 'GET, HEAD, POST'])
  })

  test('under a name that is not ours: 421', async () => {
    const { app } = await rescue({ hosts: ['garage.example'] })
    expect((await app.inject({ url: '/', headers: { host: 'elsewhere.example' } })).statusCode).toBe(421)
  })

  test('under ours the page is shown', async () => {
    const { app } = await rescue({ hosts: ['garage.example'] })
    expect((await app.inject({ url: '/', headers: { host: 'garage.example' } })).statusCode).toBe(503)
  })

  test('by a program: a problem as RFC 9457 has it', async () => {
    const { app } = await rescue()
    const reply = await app.inject('/api/vehicles')
    expect([reply.headers['content-type'], reply.json()]).toEqual([
      'application/problem+json; charset=utf-8',
      expect.objectContaining({ status: 503, detail: expect.stringContaining('cannot be opened') }),
    ])
  })

  test('by a program, sent under the folder of a site: its address begins there', async () => {
    const { app } = await rescue({ basePath: '/garage' })
    expect((await app.inject('/garage/api/vehicles')).json()).toMatchObject({ status: 503, type: '/garage/api-guide#nothing-written' })
  })

  test('a body that is no form: 415', async () => {
    const { app, code } = await rescue()
    const reply = await app.inject({ method: 'POST', url: '/rescue', headers: { 'content-type': 'application/json' }, payload: { code } })
    expect([reply.statusCode, reply.body.includes('This is not a form.')]).toEqual([415, true])
  })

  test('more than the form holds: 413', async () => {
    const { send } = await rescue()
    const reply = await send({ code: 'x'.repeat(70_000) })
    expect([reply.statusCode, reply.body.includes('That is more than this form holds.')]).toEqual([413, true])
  })
})

describe('a form of another site never reaches the code', () => {
  test.each([
    ['its Origin', { origin: 'https://evil.example' }],
    ['Origin null', { origin: 'null' }],
    ['marked cross-site', { 'sec-fetch-site': 'cross-site' }],
  ] as [string, Record<string, string>][])('%s: 403, with the right code too', async (_, headers) => {
    const { send, code } = await rescue()
    expect((await send({ code }, headers)).statusCode).toBe(403)
  })

  test('and is no try: after a hundred of them the code is still asked for', async () => {
    const { send } = await rescue()
    for (let n = 0; n < 100; n++) await send({ code: 'wrong' }, { origin: 'https://evil.example' })
    expect((await send({ code: 'wrong' })).statusCode).toBe(422)
  })

  test('our own is taken', async () => {
    const { send, code } = await rescue()
    const reply = await send({ code, backup: 'none' }, { origin: 'http://garage.example', 'sec-fetch-site': 'same-origin' })
    expect([reply.statusCode, reply.body.includes('Choose the backup to go back to.')]).toEqual([422, true])
  })

  test('behind a trusted proxy ours is the name that it tells', async () => {
    const { send, code } = await rescue({ trustedProxies: networks(['192.0.2.1']) })
    const headers = { host: '127.0.0.1:8080', 'x-forwarded-host': 'book.example', origin: 'https://book.example' }
    expect((await send({ code, backup: 'none' }, headers)).statusCode).toBe(422)
  })
})

describe('guessing at the code', () => {
  test('the eleventh wrong one in a quarter of an hour waits, and the right one with it', async () => {
    const { send, code } = await rescue()
    for (let n = 0; n < 10; n++) expect((await send({ code: `wrong${n}` }, {}, `192.0.2.${n}`)).statusCode).toBe(422)
    const reply = await send({ code, backup: 'none' })
    expect([reply.statusCode, reply.headers['retry-after'], reply.body.includes('Wait 15 minutes')]).toEqual([429, '900', true])
  })

  test('afterwards it may go on: the door is not shut until a restart', async () => {
    const { send, code } = await rescue()
    for (let n = 0; n < 25; n++) await send({ code: 'wrong' })
    const now = clock.now
    try {
      const later = new Date(now().getTime() + 15 * 60_000)
      Object.assign(clock, { now: () => later })
      expect((await send({ code, backup: 'none' })).body).toContain('Choose the backup to go back to.')
    } finally {
      Object.assign(clock, { now })
    }
  })
})

describe('what the house has at its door is here too', () => {
  test('a line in the log for each answer, without a token', async () => {
    const { app, lines } = await rescue()
    await app.inject('/join/a-secret-of-somebody')
    expect(lines.map((line) => JSON.parse(line) as object)).toMatchObject([{ msg: 'answered', url: '/join/(token)', status: 503 }])
  })

  test('the address that a trusted proxy names stands there', async () => {
    const { app, lines } = await rescue({ trustedProxies: networks(['192.0.2.1']) })
    await app.inject({ url: '/', remoteAddress: '192.0.2.1', headers: { 'x-forwarded-for': '198.51.100.7' } })
    expect(JSON.parse(lines[0] ?? '{}')).toMatchObject({ address: '198.51.100.7' })
  })

  test('as many connections as there', async () => {
    const { app } = await rescue()
    expect(app.server.maxConnections).toBe(512)
  })

  test('the headers of every answer', async () => {
    const { app } = await rescue()
    expect((await app.inject('/')).headers['content-security-policy']).toContain("default-src 'none'")
  })

  test('a stop within the grace, whoever is still sending: told 503', async () => {
    const { app } = await rescue()
    await app.listen({ host: '127.0.0.1', port: 0 })
    const { said, begun } = slowPost((app.server.address() as AddressInfo).port)
    await begun
    const since = performance.now()
    await app.stop(300)
    expect([performance.now() - since < 3000, (await said).split('\r\n')[0]]).toEqual([true, 'HTTP/1.1 503 Service Unavailable'])
  })
})

describe('the real server beside a damaged file', () => {
  test('SIGTERM with a slow form open ends it with status 0 before a service manager would kill it', async () => {
    const folder = mkdtempSync(join(data, 'damaged-'))
    writeFileSync(join(folder, 'loombook.sqlite'), Buffer.alloc(8192, 7))
    const server = await startServer({ program: ['--import', 'tsx', 'server/main.ts'], data: folder })
    closing.push(async () => server.child.kill('SIGKILL'))
    const ended = new Promise<number | null>((resolve) => server.child.once('exit', (code) => resolve(code)))
    const { said, begun } = slowPost(server.port)
    await begun
    const since = performance.now()
    server.child.kill('SIGTERM')
    // Seven seconds of grace, and what a busy machine needs; a service manager commonly waits for ten.
    expect(await ended).toBe(0)
    expect(performance.now() - since).toBeLessThan(10_000)
    expect((await said).split('\r\n')[0]).toBe('HTTP/1.1 503 Service Unavailable')
    // The owner's log may say which file it is.
    expect(server.out()).toContain(join(folder, 'loombook.sqlite'))
  }, 60_000)
})

/** A form of which only the beginning ever comes; `begun` once it has been read. */
function slowPost(port: number): { readonly said: Promise<string>; readonly begun: Promise<void> } {
  const socket = connect(port, '127.0.0.1')
  let heard = ''
  let begin = () => {}
  const begun = new Promise<void>((resolve) => {
    begin = resolve
  })
  const said = new Promise<string>((resolve) => {
    socket.on('error', () => {})
    socket.on('data', (bytes) => {
      heard += String(bytes)
      // The server asks for the body: it has read the header.
      if (heard.startsWith('HTTP/1.1 100 Continue\r\n\r\n')) {
        heard = heard.slice('HTTP/1.1 100 Continue\r\n\r\n'.length)
        socket.write('code=')
        begin()
      }
    })
    socket.on('close', () => resolve(heard))
  })
  const head = ['POST /rescue HTTP/1.1', 'Host: x', 'Expect: 100-continue', 'Content-Type: application/x-www-form-urlencoded']
  socket.write(`${[...head, 'Content-Length: 1000'].join('\r\n')}\r\n\r\n`)
  return { said, begun }
}
