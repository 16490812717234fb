import type { FastifyInstance } from 'fastify'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { buildApp } from '../../server/app.ts'
import { fixedClock } from '../../server/records/clock.ts'
import { type Db, openDatabase } from '../../server/records/database.ts'
import { loadDemo } from '../../server/records/demo/index.ts'
import { createOwner } from '../../server/records/people.ts'

let app: FastifyInstance
let db: Db
let cookie = ''
let token = ''
let vehicle = ''

beforeAll(async () => {
  db = openDatabase(':memory:')
  const clock = fixedClock('2026-11-25T12:00:00Z')
  const owner = createOwner(db, clock, { name: 'Owner', password: 'a long enough word' })
  if (!owner.ok) throw new Error('no owner')
  const demo = loadDemo(db, clock, owner.value)
  if (!demo.ok) throw new Error('no demo')
  vehicle = demo.value.vehicleIds[0] as string
  app = await buildApp({ db, clock, config: { data: '', host: '127.0.0.1', port: 0, timeZone: 'UTC' } })
  const door = await app.inject('/login')
  const visitor = String(door.headers['set-cookie']).split(';')[0] as string
  const signed = await app.inject({
    method: 'POST',
    url: '/sessions',
    headers: { cookie: visitor, 'content-type': 'application/x-www-form-urlencoded' },
    payload: new URLSearchParams({ _token: tokenIn(door.body), name: 'Owner', password: 'a long enough word' }).toString(),
  })
  cookie = String(signed.headers['set-cookie']).split(';')[0] as string
  token = tokenIn((await get('/')).body)
})
afterAll(() => app.close())

function tokenIn(body: string): string {
  return /name="_token" value="([^"]+)"/.exec(body)?.[1] ?? ''
}
function get(url: string) {
  return app.inject({ url, headers: { cookie } })
}
function post(url: string, fields: Record<string, string>, headers: Record<string, string> = {}) {
  return app.inject({
    method: 'POST',
    url,
    headers: { cookie, 'content-type': 'application/x-www-form-urlencoded', ...headers },
    payload: new URLSearchParams({ _token: token, ...fields }).toString(),
  })
}
function rowCount(): number {
  return ['entries', 'changes', 'parts', 'part_revisions', 'vehicles'].reduce(
    (sum, table) => sum + (db.$client.prepare(`SELECT count(*) AS n FROM ${table}`).get() as { n: number }).n,
    0,
  )
}

describe('every page answers with one heading and labelled fields', () => {
  test.each([
    '/',
    '/vehicles/new',
    '/vehicles/import',
    '/shelf',
    '/shelf/new',
    '/shelf/new?kind=relay',
    'V',
    'V?on=2023-05-10',
    'V?on=2000-01-01',
    'V/components/r7',
    'V/components/block',
    'V/components/fridge',
    'V/components/frame',
    'V/components/block/chain',
    'V/entries/new',
    'V/entries/new?component=r7',
    'V/journal',
    'V/journal?contains=relay',
    'V/fuse-box',
  ])('%s', async (path) => {
    const reply = await get(path.replace('V', `/vehicles/${vehicle}`))
    expect(reply.statusCode).toBe(200)
    expect(reply.body.match(/<h1/g)).toHaveLength(1)
    const ids = [...reply.body.matchAll(/\sid="([^"]+)"/g)].map((found) => found[1] as string)
    expect(ids.filter((id, n) => ids.indexOf(id) !== n)).toEqual([])
    for (const [, tag] of reply.body.matchAll(/<((?:input|select|textarea) [^>]*)>/g)) {
      if (/type="hidden"/.test(tag as string)) continue
      const id = /\sid="([^"]+)"/.exec(tag as string)?.[1]
      expect(reply.body, tag).toContain(`for="${id}"`)
    }
    expect(reply.body).not.toMatch(/style=|onclick=|<script/)
  })
})

const log = (fields: Record<string, string>) => ({ verb: 'noted', on: '2026-11-20', text: 'Looked at.', do: 'save', ...fields })
// What is typed, the field that must be named. Shapes of a bad number and of a bad day stand first.
const refused: [string, string, Record<string, string>, string][] = [
  ['odometer below zero', 'entries', log({ odometer: '-1' }), 'odometer'],
  ['odometer of 1e15', 'entries', log({ odometer: '1e15' }), 'odometer'],
  ['odometer of 1,234', 'entries', log({ odometer: '1,234' }), 'odometer'],
  ['odometer of 1.234,5', 'entries', log({ odometer: '1.234,5' }), 'odometer'],
  ['odometer in full-width digits', 'entries', log({ odometer: '１２３' }), 'odometer'],
  ['odometer of 0x10', 'entries', log({ odometer: '0x10' }), 'odometer'],
  ['odometer of Infinity', 'entries', log({ odometer: 'Infinity' }), 'odometer'],
  ['odometer lower than the last', 'entries', log({ odometer: '1000', on: '2026-11-25' }), 'odometer'],
  ['cost in words', 'entries', log({ cost: 'ten' }), 'cost'],
  ['the year 0000', 'entries', log({ on: '0000-01-01' }), 'on'],
  ['the year 9999', 'entries', log({ on: '9999-12-31' }), 'on'],
  ['30 February', 'entries', log({ on: '2026-02-30' }), 'on'],
  ['29 February in a common year', 'entries', log({ on: '2025-02-29' }), 'on'],
  ['a day the other way round', 'entries', log({ on: '25/11/2026' }), 'on'],
  ['tomorrow', 'entries', log({ on: '2026-11-26' }), 'on'],
  ['no day', 'entries', log({ on: '' }), 'on'],
  ['nothing said', 'entries', log({ text: '' }), 'text'],
  ['a swap of nothing', 'entries', log({ verb: 'swapped' }), 'component'],
  ['a swap for nothing', 'entries', log({ verb: 'swapped', component: 'r7' }), 'part'],
  ['a component that is not there', 'entries', log({ component: 'ghost' }), 'component'],
  ['a part that is not there', 'entries', log({ verb: 'swapped', component: 'r7', part: 'ghost' }), 'part'],
  ['a verb that is none', 'entries', log({ verb: 'exploded' }), 'verb'],
  ['a rerouting without a length', 'entries', log({ verb: 'rerouted', component: 'feed-bar' }), 'length'],
  ['a reading without a figure', 'entries', log({ verb: 'measured', component: 'r7' }), 'value'],
  [
    'a chain with a size in words',
    'chains',
    { from: 'block:1', rows: '1', 'type-0': 'conductor', 'size-0': 'thick', on: '2026-11-20', do: 'save' },
    'size-0',
  ],
  ['a chain with a nameless load', 'chains', { from: 'block:1', rows: '1', 'type-0': 'load', on: '2026-11-20', do: 'save' }, 'name-0'],
  ['an unfinished change without a word', 'unfinished', { components: 'block', text: '' }, 'text'],
]

describe('a refused form names the field, keeps what was typed and stores nothing', () => {
  test.each(refused)('%s', async (_, path, fields, field) => {
    const before = rowCount()
    const reply = await post(`/vehicles/${vehicle}/${path}`, fields)
    expect(reply.statusCode).toBe(422)
    expect(reply.body).toContain(`href="#${field}"`)
    const typed = fields[field]
    if (typed && ['odometer', 'cost', 'on', 'size-0'].includes(field)) expect(reply.body).toContain(`value="${typed}"`)
    expect(rowCount()).toBe(before)
  })

  test('29 February of a leap year is a day', async () => {
    expect((await post(`/vehicles/${vehicle}/entries`, log({ on: '2024-02-29' }))).statusCode).toBe(303)
  })

  test('the same form sent twice makes one entry', async () => {
    const before = rowCount()
    const first = await post(`/vehicles/${vehicle}/entries`, log({ once: 'one-and-the-same' }))
    const after = rowCount()
    const again = await post(`/vehicles/${vehicle}/entries`, log({ once: 'one-and-the-same' }))
    expect(after).toBeGreaterThan(before)
    expect(again.headers.location).toBe(first.headers.location)
    expect(rowCount()).toBe(after)
  })
})

describe('B1: a write that is not from our own form', () => {
  test.each<[string, Record<string, string>, Record<string, string>]>([
    ['no token', { _token: '' }, {}],
    ['a wrong token', { _token: 'x'.repeat(43) }, {}],
    ['another origin', {}, { origin: 'https://evil.example' }],
    ['an origin of null', {}, { origin: 'null' }],
    ['marked cross-site', {}, { 'sec-fetch-site': 'cross-site' }],
  ])('%s is refused and changes nothing', async (_, fields, headers) => {
    const before = rowCount()
    const reply = await post(`/vehicles/${vehicle}/entries`, log(fields), headers)
    expect(reply.statusCode).toBe(403)
    expect(rowCount()).toBe(before)
  })
})

test('the light bar on the shared relay is flagged when it is fitted, and cleared two entries later', async () => {
  const journal = (await get(`/vehicles/${vehicle}/journal`)).body
  const entry = (title: string) => new RegExp(`href="(/entries/[^"]+)">${title}`).exec(journal)?.[1] as string
  // Two work lamps of 6 A, and 170 W at some 14 V: 12 + 12.2 A on a 20 A contact.
  expect((await get(entry('Light bar on the roof'))).body).toMatch(
    /Relay R7, work lamps carries on its make contact 24\.\d A of its 20 A rating/,
  )
  const fixed = (await get(entry('Light bar given its own fuse'))).body
  expect(fixed).toContain('Cleared')
  expect(fixed).toContain('Relay R7, work lamps: was over')
})

test('what is not there answers 404, and text is shown as it was typed', async () => {
  expect((await get('/vehicles/nothing')).statusCode).toBe(404)
  expect((await get(`/vehicles/${vehicle}/components/ghost`)).statusCode).toBe(404)
  const saved = await post(`/vehicles/${vehicle}/entries`, log({ title: '<script>alert(1)</script>', text: '{{7*7}}' }))
  const page = (await get(saved.headers.location as string)).body
  expect(page).toContain('&lt;script&gt;alert(1)')
  expect(page).not.toContain('<script>alert')
})

test('both sample documents come in, and every component has its branch page', async () => {
  for (const name of ['small', 'large']) {
    const { readFileSync } = await import('node:fs')
    const text = readFileSync(`${import.meta.dirname}/../networks/${name}.json`, 'utf8')
    const done = await post('/vehicles/import', { document: text })
    expect(done.statusCode).toBe(303)
    const page = await get(done.headers.location as string)
    expect(page.statusCode).toBe(200)
    expect((page.body.match(/<[a-z]/g) ?? []).length).toBeLessThanOrEqual(6000)
    const keys = (JSON.parse(text) as { components: { key: string }[] }).components.map((component) => component.key)
    for (const key of name === 'small' ? keys : keys.filter((_, n) => n % 20 === 0))
      expect((await get(`${done.headers.location}/components/${key}`)).statusCode, key).toBe(200)
  }
}, 120_000)
