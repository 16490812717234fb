/** What is said on the line itself: odd methods and lengths, limits and time-outs, and the headers of every answer. */
import { readdirSync } from 'node:fs'
import { type AddressInfo, connect } from 'node:net'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { addressesOf, type Book, openBook, PASSWORD, tokenIn } from '../pages/book.ts'
import { tagsOf } from '../pages/markup.ts'

let book: Book
let port = 0
beforeAll(async () => {
  book = await openBook()
  await book.app.listen({ host: '127.0.0.1', port: 0 })
  port = (book.app.server.address() as AddressInfo).port
}, 120_000)
afterAll(() => book.close())

/** All that is answered to these bytes. */
function said(bytes: string): Promise<string> {
  return new Promise((resolve) => {
    const socket = connect(port, '127.0.0.1')
    let heard = ''
    socket.on('data', (chunk) => {
      heard += chunk
    })
    socket.on('error', () => {})
    socket.on('close', () => resolve(heard))
    socket.end(bytes)
  })
}

describe('B35: what a browser would not send', () => {
  const host = 'Host: 127.0.0.1\r\nConnection: close\r\n'
  test.each([
    ['TRACE', `TRACE /secret-path HTTP/1.1\r\n${host}X-Secret: secret-header\r\n\r\n`, 405],
    ['OPTIONS', `OPTIONS /secret-path HTTP/1.1\r\n${host}Origin: https://secret-header.example\r\n\r\n`, 405],
    ['OPTIONS of all', `OPTIONS * HTTP/1.1\r\n${host}\r\n`, 405],
    ['PUT', `PUT /vehicles/secret-path HTTP/1.1\r\n${host}Content-Length: 0\r\n\r\n`, 405],
    ['DELETE to programs’ addresses', `DELETE /api/vehicles HTTP/1.1\r\n${host}\r\n`, 405],
    ['a method that is none', `SECRET /secret-path HTTP/1.1\r\n${host}\r\n`, 400],
    ['two lengths', `POST /sessions HTTP/1.1\r\n${host}Content-Length: 3\r\nContent-Length: 4\r\n\r\nsecret-body`, 400],
    ['a length and chunks', `POST /sessions HTTP/1.1\r\n${host}Content-Length: 3\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n`, 400],
    ['chunks that are none', `POST /sessions HTTP/1.1\r\n${host}Transfer-Encoding: chunked\r\n\r\nsecret-body\r\n\r\n`, 400],
    ['another coding', `POST /sessions HTTP/1.1\r\n${host}Transfer-Encoding: secret-header\r\n\r\n`, 400],
    ['a length below none', `POST /sessions HTTP/1.1\r\n${host}Content-Length: -1\r\n\r\n`, 400],
    ['no host', 'GET / HTTP/1.1\r\nConnection: close\r\n\r\n', 400],
    ['a header over two lines', `GET / HTTP/1.1\r\n${host}X-A: a\r\n secret-header\r\n\r\n`, 400],
    ['a header with NUL', `GET / HTTP/1.1\r\n${host}X-A: \u0000\r\n\r\n`, 400],
    ['headers of 20 kB', `GET / HTTP/1.1\r\n${host}X-A: ${'a'.repeat(20_000)}\r\n\r\n`, 431],
    ['no http at all', 'secret-body\r\n\r\n', 400],
  ])('%s', async (_, bytes, status) => {
    const answer = await said(bytes)
    expect(answer.split('\r\n')[0]).toMatch(new RegExp(`^HTTP/1\\.1 ${status} `))
    expect(answer).not.toMatch(/secret-(header|body)/)
    if (status === 405) expect(answer).toMatch(/\r\nallow: GET, HEAD, POST\r\n/i)
  })

  test('a whole address in the first line is the same request (RFC 9112, 3.2.2)', async () => {
    const ask = (target: string) => said(`GET ${target} HTTP/1.1\r\n${host}\r\n`)
    for (const [path, status] of [
      ['/login', 200],
      ['/healthz', 200],
      ['/api/vehicles', 401],
      ['/join/nothing', 404],
    ] as const)
      for (const site of ['', 'http://127.0.0.1', 'HTTP://other.example:81'])
        expect([site, path, (await ask(site + path)).split(' ')[1]]).toEqual([site, path, String(status)])
    const away = await ask('http://127.0.0.1/people?x=1')
    expect(/\r\nlocation: (.*)\r\n/i.exec(away)?.[1]).toBe('/login?next=%2Fpeople%3Fx%3D1')
    expect(/\r\nlocation: (.*)\r\n/i.exec(await ask('http://127.0.0.1'))?.[1]).toBe('/login?next=%2F')
  })

  test('HTTP/1.0 is answered like any other, and the line ends', async () => {
    expect(await said('GET /login HTTP/1.0\r\n\r\n')).toMatch(/^HTTP\/1\.1 200 OK/)
  })

  test('a second request hidden in the body of the first is read as body', async () => {
    const hidden = 'GET /healthz HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n'
    const answer = await said(`POST /sessions HTTP/1.1\r\n${host}Content-Length: ${hidden.length}\r\n\r\n${hidden}`)
    expect(answer.match(/HTTP\/1\.1 /g)).toHaveLength(1)
  })
})

describe('B16: bounds of every body and connection', () => {
  test('time-outs are set, and none of them is endless', () => {
    const { requestTimeout, headersTimeout, keepAliveTimeout } = book.app.server
    for (const [limit, most_ms] of [
      [requestTimeout, 30 * 60_000],
      [headersTimeout, 60_000],
      [keepAliveTimeout, 75_000],
    ] as const) {
      expect(limit).toBeGreaterThan(0)
      expect(limit).toBeLessThanOrEqual(most_ms)
    }
  })

  test('every address that takes a body has a bound for it: 3 MB are refused by all of them', async () => {
    const urls = [...new Set(book.app.answered.filter(({ method }) => method === 'POST').map(({ url }) => url.replaceAll(/:\w+/g, 'x')))]
    const sends = [
      ['application/x-www-form-urlencoded', `_token=${book.token}&name=${'a'.repeat(3_000_000)}`],
      ['application/json', `{"name":"${'a'.repeat(3_000_000)}"}`],
    ] as const
    expect(urls.length).toBeGreaterThan(45)
    for (const url of urls)
      for (const [type, payload] of sends) {
        const reply = await book.app.inject({ method: 'POST', url, headers: { cookie: book.cookie, 'content-type': type }, payload })
        expect([401, 403, 413, 415], `${url} ${type}`).toContain(reply.statusCode)
      }
  })

  test('a form of a hundred thousand fields, or nested ones, is refused or read flat', async () => {
    const many = Array.from({ length: 100_000 }, (_, n) => `f${n}=x`).join('&')
    const headers = { cookie: book.cookie, 'content-type': 'application/x-www-form-urlencoded' }
    for (const payload of [`_token=${book.token}&${many}`, `_token=${book.token}&name[a][b]=x&name[]=y&__proto__[role]=owner`]) {
      const reply = await book.app.inject({ method: 'POST', url: '/vehicles', headers, payload })
      expect([400, 413, 422]).toContain(reply.statusCode)
    }
    expect(({} as { role?: unknown }).role).toBeUndefined()
  })
})

const POLICY =
  "default-src 'none';script-src 'self';style-src 'self';img-src 'self' data: blob:;font-src 'self';connect-src 'self';object-src 'none';form-action 'self';frame-ancestors 'none';base-uri 'none';manifest-src 'self'"

describe('every answer carries the policy and says what it is', () => {
  type Reply = Awaited<ReturnType<Book['get']>>
  const sound = (reply: Reply, name: string) => {
    expect(reply.headers['content-security-policy'], name).toBe(POLICY)
    expect(reply.headers['x-content-type-options'], name).toBe('nosniff')
    expect(['same-origin', 'no-referrer'], name).toContain(reply.headers['referrer-policy'])
    expect(reply.headers['access-control-allow-origin'], name).toBeUndefined()
    for (const told of ['server', 'x-powered-by', 'strict-transport-security'])
      expect(reply.headers[told], `${name} ${told}`).toBeUndefined()
    if (reply.body !== '')
      expect(String(reply.headers['content-type']), name).toMatch(/charset=utf-8|^image\/|^application\/(pdf|zip|json)$/)
  }

  test('pages, their pieces and what is refused: no inline script, style or handler, nothing from elsewhere, kept nowhere', async () => {
    const pages = Object.values(await addressesOf(book)).flatMap((those) => those.slice(0, 2))
    expect(pages.length).toBeGreaterThan(60)
    for (const url of [...pages, '/nothing-here', '/vehicles/nothing', '/people/x', '/login']) {
      const reply = await book.get(url)
      sound(reply, url)
      expect(reply.statusCode === 303 || reply.headers['cache-control'] === 'no-store', url).toBe(true)
      for (const { name, attributes } of tagsOf(reply.body)) {
        expect(['style', 'iframe', 'object', 'embed', 'base'], `${url} ${name}`).not.toContain(name)
        for (const [attribute, value] of attributes) {
          expect(attribute, `${url} ${attribute} of ${name}`).not.toMatch(/^(style$|on|hx-on|srcdoc)/)
          expect(value, `${url} ${attribute} of ${name}`).not.toMatch(/^\s*(javascript|vbscript):|^js:|hx-trigger="[^"]*\[/i)
          if (attribute === 'src') expect(value, url).toMatch(/^(\/|data:image)/)
        }
      }
      expect(reply.body.match(/<script\b[^>]*>[^<]/g) ?? [], url).toEqual([])
    }
  }, 120_000)

  test('redirects, faults, what a stranger gets, static files, feeds and programs', async () => {
    const asked: readonly (readonly [string, Promise<Reply>])[] = [
      ['a redirect', book.post('/vehicles', { name: 'Moss', systemVoltage_V: '12' })],
      ['403', book.post('/vehicles', { name: 'Moss', _token: 'x' })],
      ['422', book.post('/vehicles', {})],
      ['415', book.app.inject({ method: 'POST', url: '/vehicles', headers: { cookie: book.cookie, 'content-type': 'a/b' }, payload: 'x' })],
      ['405', book.app.inject({ method: 'DELETE', url: '/vehicles' })],
      ['a stranger', book.app.inject({ url: '/' })],
      ['a stranger’s piece', book.app.inject({ url: '/', headers: { 'hx-request': 'true' } })],
      ['a stranger’s JSON', book.app.inject({ url: '/', headers: { accept: 'application/json' } })],
      ['a style sheet', book.app.inject({ url: '/static/app.css' })],
      ['a script', book.app.inject({ url: '/static/htmx.min.js' })],
      ['no such file', book.app.inject({ url: '/static/nothing.js' })],
      ['outside', book.app.inject({ url: '/static/..%2fpackage.json' })],
      ['a feed that is none', book.app.inject({ url: '/feeds/x.ics' })],
      ['a program without a token', book.app.inject({ url: '/api/vehicles' })],
      ['the vehicle document', book.get(`/vehicles/${book.vehicles[0]}/document.json`)],
      ['the archive', book.get('/archive/download')],
      ['kept and sent again', book.get(`/vehicles/${book.vehicles[0]}`)],
    ]
    for (const [name, reply] of asked) sound(await reply, name)
  })

  test('what somebody sent is sent back as a thing by itself: sandboxed, of its own kind, under a name of ours', async () => {
    const [photo = ''] = (await addressesOf(book))['/photos/:id'] ?? []
    for (const end of ['original', 'picture', 'thumbnail']) {
      const reply = await book.get(`${photo}/${end}`)
      expect(reply.statusCode, end).toBe(200)
      expect(reply.headers['content-security-policy'], end).toBe("default-src 'none'; sandbox")
      expect(reply.headers['x-content-type-options'], end).toBe('nosniff')
      expect(String(reply.headers['content-type']), end).toMatch(/^image\/(jpeg|webp)$/)
    }
  })

  test('cookies are read by no script and sent with no form of another site; on plain http they are not Secure, else they would never come back', async () => {
    const door = await book.app.inject('/login')
    const visitor = String(door.headers['set-cookie'])
    const signed = await book.app.inject({
      method: 'POST',
      url: '/sessions',
      headers: { cookie: visitor.split(';')[0] as string, 'content-type': 'application/x-www-form-urlencoded' },
      payload: new URLSearchParams({ _token: tokenIn(door.body), name: 'Owner', password: PASSWORD }).toString(),
    })
    expect(signed.statusCode).toBe(303)
    const set = [visitor, ...([signed.headers['set-cookie'] ?? []].flat() as string[])]
    expect(set.map((line) => line.split('=')[0])).toEqual(expect.arrayContaining(['loombook_visitor', 'loombook_session']))
    for (const line of set) {
      for (const flag of ['HttpOnly', 'SameSite=Lax', 'Path=/']) expect(line).toContain(`; ${flag}`)
      expect(line).not.toMatch(/Domain|Secure/)
    }
  })

  test('no script of ours builds code or markup from text', async () => {
    const ours = readdirSync(join(import.meta.dirname, '../../static')).filter((name) => name.endsWith('.js') && name !== 'htmx.min.js')
    expect(ours).toContain('draft.js')
    for (const name of ours) {
      const { body } = await book.app.inject({ url: `/static/${name}` })
      expect(body.length).toBeGreaterThan(100)
      expect(body).not.toMatch(/\beval\b|new Function|setTimeout\(\s*['"`]|innerHTML|outerHTML|insertAdjacentHTML|document\.write/)
    }
  })
})
