import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest'
import { makeBackup } from '../../server/records/backup.ts'
import { systemClock } from '../../server/records/clock.ts'
import { closeDatabase, openDatabase } from '../../server/records/database.ts'
import { buildRescue } from '../../server/rescue.ts'
import { withoutBase } from '../../server/web/base-path.ts'
import { addressesOf, type Book, NO_PAGES, openBook, pagePatterns } from '../pages/book.ts'
import { faultsOf, tagsOf } from '../pages/markup.ts'

const BASE = '/x/y'
const OF_OURS = ['href', 'src', 'action', 'formaction', 'hx-get', 'hx-post', 'hx-put', 'hx-patch', 'hx-delete', 'data-draft', 'data-post']
let book: Book

beforeAll(async () => {
  book = await openBook({ config: { basePath: BASE } })
})
afterAll(() => book.close())

/** The book as it is at the top of a site: addresses get the folder when they are asked for, and lose it in what comes back. */
function atTop(): Book {
  const lost = <T extends { body: string; headers: Record<string, unknown> }>(reply: T) =>
    ({
      ...reply,
      body: reply.body.replaceAll(`"${BASE}/`, '"/'),
      headers: { ...reply.headers, location: String(reply.headers.location ?? '').replace(BASE, '') },
    }) as T
  return {
    ...book,
    get: async (url: string, headers?: Record<string, string>) => lost(await book.get(BASE + url, headers)),
    post: async (url: string, fields: Record<string, string>, headers?: Record<string, string>) =>
      lost(await book.post(BASE + url, fields, headers)),
    send: async (url: string, given: Parameters<Book['send']>[1]) => lost(await book.send(BASE + url, given)),
  } as Book
}

/** Addresses of this site in a page, by the attribute they stand in. */
const addressesIn = (body: string) =>
  tagsOf(body).flatMap((tag) =>
    OF_OURS.flatMap((name) => {
      const value = tag.attributes.get(name)
      return value?.startsWith('/') ? [`${name}=${value}`] : []
    }),
  )

describe('the route walk under /x/y', () => {
  test('every page answers there, and every address in it begins there and once', async () => {
    const top = atTop()
    const addresses = await addressesOf(top)
    let seen = 0
    for (const pattern of pagePatterns().filter((one) => !NO_PAGES.includes(one)))
      for (const address of (addresses[pattern] ?? []).slice(0, 2)) {
        const reply = await book.get(address.startsWith(BASE) ? address : BASE + address)
        expect(reply.statusCode, address).toBe(200)
        expect(faultsOf(reply.body.replaceAll(`"${BASE}/`, '"/')), address).toEqual([])
        const found = addressesIn(reply.body)
        seen += found.length
        expect(
          found.filter((one) => !one.includes(`=${BASE}/`) || one.includes(`${BASE}${BASE}`)),
          address,
        ).toEqual([])
      }
    expect(seen).toBeGreaterThan(1000)
  }, 120_000)

  test('links of the main pages lead to pages', async () => {
    const links = new Set<string>()
    for (const address of ['/', '/settings', '/account', `/vehicles/${book.vehicles[1]}/journal`])
      for (const one of addressesIn((await book.get(BASE + address)).body))
        if (one.startsWith('href=') || one.startsWith('src=')) links.add(one.slice(one.indexOf('=') + 1).split('#')[0] as string)
    expect(links.size).toBeGreaterThan(20)
    for (const link of links) expect((await book.get(link.replaceAll('&amp;', '&'))).statusCode, link).toBe(200)
  }, 120_000)
})

test('a page that was kept carries it as the page that was made does', async () => {
  const V = `${BASE}/vehicles/${book.vehicles[0]}`
  for (const url of [V, `${V}/components/r7`, `${V}/entries/new`]) {
    const first = await book.get(`${url}?twice=1`)
    const prepare = vi.spyOn(book.db.$client, 'prepare')
    const second = await book.get(`${url}?twice=1`)
    // Nothing was read for it, so it is the kept one.
    expect(prepare, url).not.toHaveBeenCalled()
    prepare.mockRestore()
    expect([first.statusCode, second.statusCode]).toEqual([200, 200])
    const found = addressesIn(second.body)
    expect(found.length, url).toBeGreaterThan(10)
    expect(found, url).toEqual(addressesIn(first.body))
    expect(
      found.filter((one) => !one.includes(`=${BASE}/`) || one.includes(`${BASE}${BASE}`)),
      url,
    ).toEqual([])
  }
})

test('the one page there is beside a damaged database carries it, and its form comes back there', async () => {
  const data = mkdtempSync(join(tmpdir(), 'loombook-under-'))
  const db = openDatabase(join(data, 'loombook.sqlite'))
  await makeBackup({ db, clock: systemClock, data, folder: join(data, 'backups') })
  closeDatabase(db)
  const config = { data, host: '127.0.0.1', port: 0, timeZone: 'UTC', basePath: BASE }
  const { app } = await buildRescue({ clock: systemClock, config, restart: () => {} })
  const page = await app.inject(`${BASE}/vehicles/anything`)
  expect([page.statusCode, faultsOf(page.body.replaceAll(`"${BASE}/`, '"/'))]).toEqual([503, []])
  const found = addressesIn(page.body)
  expect(found).toContain(`action=${BASE}/rescue`)
  expect(found).toContain(`href=${BASE}/static/app.css`)
  expect(found.filter((one) => !one.includes(`=${BASE}/`))).toEqual([])
  expect((await app.inject(`${BASE}/static/app.css`)).statusCode).toBe(200)
  const sent = await app.inject({
    method: 'POST',
    url: `${BASE}/rescue`,
    headers: { 'content-type': 'application/x-www-form-urlencoded' },
    payload: 'code=wrong',
  })
  expect([sent.statusCode, addressesIn(sent.body)]).toEqual([422, found])
  expect((await app.inject('/')).headers.location).toBe(`${BASE}/`)
  expect((await app.inject('/healthz')).body).toBe('ok\n')
  await app.close()
  rmSync(data, { recursive: true })
})

describe('what is sent back', () => {
  test('a form leads on to a page below it', async () => {
    const made = await book.post(`${BASE}/vehicles`, { name: 'Fern', systemVoltage_V: '12' })
    expect(made.headers.location).toMatch(/^\/x\/y\/vehicles\/[0-9a-f-]{36}$/)
    expect((await book.get(made.headers.location as string)).statusCode).toBe(200)
  })

  test('cookies are of this folder', async () => {
    const door = await book.app.inject(`${BASE}/login`)
    expect(String(door.headers['set-cookie'])).toContain('; Path=/x/y/;')
    const out = await book.app.inject({
      method: 'POST',
      url: `${BASE}/sessions/end`,
      headers: { cookie: book.cookie, 'content-type': 'application/x-www-form-urlencoded' },
      payload: '',
    })
    for (const cookie of [out.headers['set-cookie'] ?? []].flat()) expect(cookie).toContain('Path=/x/y/')
  })

  test('who is signed out comes to the door below it, and from there to where they wanted', async () => {
    const reply = await book.app.inject(`${BASE}/shelf`)
    expect(reply.headers.location).toBe('/x/y/login?next=%2Fshelf')
  })

  test('answers to programs', async () => {
    const made = await book.post(`${BASE}/tokens`, { name: 'walk', scope: 'read' })
    const token = /<p class="mono">([^<]+)<\/p>/.exec(made.body)?.[1] ?? ''
    const ask = (url: string) => book.app.inject({ url: BASE + url, headers: { authorization: `Bearer ${token}` } })
    const list = (await ask('/api/vehicles?limit=1')).json() as { next: string }
    expect(list.next).toMatch(/^\/x\/y\/api\/vehicles\?limit=1&after=/)
    expect((await ask(list.next.slice(BASE.length))).statusCode).toBe(200)
    expect((await ask('/api/nothing')).json()).toMatchObject({ type: '/x/y/api-guide#not-found' })
    expect((await book.get(`${BASE}/api-guide/openapi.json`)).json()).toMatchObject({ servers: [{ url: BASE }] })
  })

  test('what a script is answered: the address of a photo that it shows', async () => {
    const bytes = await sharp({ create: { width: 30, height: 20, channels: 3, background: '#8a5a00' } })
      .jpeg()
      .toBuffer()
    const sent = await book.send(`${BASE}/vehicles/${book.vehicles[0]}/photos`, {
      files: [{ name: 'box.jpg', bytes }],
      headers: { accept: 'application/json' },
    })
    const [photo] = (sent.json() as { photos: { id: string; name: string; thumbnail: string }[] }).photos
    expect([sent.statusCode, photo?.thumbnail]).toEqual([201, `${BASE}/photos/${photo?.id}/thumbnail`])
    expect((await book.get(photo?.thumbnail ?? '')).headers['content-type']).toBe('image/webp')
  })

  test('what somebody wrote is not an address, whatever it looks like', async () => {
    const name = 'Fern href="/shelf" "next":"/api/x" src="/'
    const made = await book.post(`${BASE}/vehicles`, { name, systemVoltage_V: '12' })
    const page = await book.get(made.headers.location as string)
    expect(page.body).toContain('Fern href=&quot;/shelf&quot; &quot;next&quot;:&quot;/api/x&quot; src=&quot;/')
  })
})

describe('outside of it', () => {
  test.each(['/shelf', '/x', '/x/yz', '/x/yz/shelf', '//x/y/', '/X/Y/', '/login'])('%s is nothing of ours', async (url) => {
    const reply = await book.app.inject({ url, headers: { cookie: book.cookie } })
    expect(reply.statusCode).toBe(404)
    expect(reply.headers['set-cookie']).toBeUndefined()
  })

  test('the top of the site leads to it, and machines that watch find their answer there too', async () => {
    expect((await book.app.inject('/')).headers.location).toBe('/x/y/')
    for (const url of ['/healthz', '/readyz', `${BASE}/healthz`]) expect((await book.app.inject(url)).statusCode, url).toBe(200)
    expect((await book.app.inject('/healthz/x')).statusCode).toBe(404)
  })

  test.each([
    ['/x/y', '/'],
    ['/x/y?a=1', '/?a=1'],
    ['/x/y/a?next=/x/y/b', '/a?next=/x/y/b'],
    ['http://garage.example/x/y/a', '/a'],
  ])('%s is %s to the application', (url, own) => {
    expect(withoutBase({ url } as never, BASE)).toBe(own)
  })
})
