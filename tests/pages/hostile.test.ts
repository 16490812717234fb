/** Every address and every form met by somebody who means harm: nothing is done, nothing runs, what is shown is shown as text. */
import { createHash } from 'node:crypto'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type ApiBook, idsOf, openBook } from '../api/book.ts'
import { loggedAddress } from '../../server/web/logged-address.ts'
import { addressesOf, tokenIn } from './book.ts'
import { type FormOf, formsOf } from './forms-of.ts'
import { faultsOf } from './markup.ts'

let book: ApiBook
let addresses: Readonly<Record<string, readonly string[]>>
let ids: Awaited<ReturnType<typeof idsOf>>
beforeAll(async () => {
  book = await openBook()
  ids = await idsOf(book)
  addresses = await addressesOf(book)
}, 300_000)
afterAll(() => book.close())

/** Every address that takes a form, with ids of this household in it. */
const writes = () =>
  [...new Set(book.app.answered.filter(({ method, url }) => method === 'POST' && !url.startsWith('/api/')).map(({ url }) => url))].map(
    (pattern) => ({ pattern, url: placed(pattern) }),
  )
const placed = (pattern: string) =>
  pattern
    .replace(/^(\/vehicles)\/:id/, `$1/${ids.vehicle}`)
    .replace(/^(\/entries)\/:id/, `$1/${ids.entry}`)
    .replace(/^(\/parts)\/:id/, `$1/${ids.part}`)
    .replace(/^(\/photos)\/:id/, `$1/${ids.photo}`)
    .replace(/^(\/people)\/:id/, `$1/${book.actor.personId}`)
    .replace(/(\/components)\/:key/, '$1/r7')
    .replace(/(\/due)\/:key/, '$1/grounds-2027')
    .replaceAll(/:\w+/g, 'x')

const LOG = 'security_events'
/** Made anew from the journal at will. */
const DERIVED = ['projections', 'projection_parts', 'vehicle_facts']
function digest(): string {
  const tables = book.db.$client
    .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name")
    .pluck()
    .all() as string[]
  const hash = createHash('sha256')
  for (const table of tables.filter((one) => one !== LOG && !DERIVED.includes(one)))
    for (const row of book.db.$client.prepare(`SELECT * FROM "${table}"`).raw().iterate())
      hash.update(`${table} ${JSON.stringify(row, (_, value) => (Buffer.isBuffer(value) ? value.toString('hex') : value))}\n`)
  return hash.digest('hex')
}
const logged = () => book.db.$client.prepare(`SELECT says FROM ${LOG} ORDER BY rowid`).pluck().all() as string[]

describe('B1: every form, sent from elsewhere', () => {
  test.each<[string, Record<string, string>, Record<string, string>]>([
    ['without its token', { _token: '' }, {}],
    ['with a wrong token', { _token: 'x'.repeat(43) }, {}],
    ['by another site, with the right token', {}, { origin: 'https://evil.example' }],
    ['with Origin null', {}, { origin: 'null' }],
    ['by a site whose name only begins like ours', {}, { origin: 'http://localhost.evil.example' }],
    ['marked cross-site', {}, { 'sec-fetch-site': 'cross-site' }],
  ])('%s: 403, nothing changed, logged', async (_, fields, headers) => {
    const [before, events] = [digest(), logged().length]
    expect(writes().length).toBeGreaterThan(40)
    for (const { url } of writes()) {
      const reply = await book.post(url, { name: 'x', text: 'x', ...fields }, headers)
      expect(reply.statusCode, url).toBe(403)
      expect(logged().at(-1), url).toContain(`POST ${loggedAddress(url).slice(0, 120)}: `)
    }
    expect(logged().length - events).toBe(writes().length)
    expect(digest()).toBe(before)
  })
})

test('B2: an address that only takes forms does nothing for GET or HEAD', async () => {
  const gets = new Set(book.app.answered.filter(({ method }) => method === 'GET').map(({ url }) => url))
  const before = digest()
  let tried = 0
  for (const { pattern, url } of writes()) {
    for (const method of ['GET', 'HEAD'] as const) {
      const reply = await book.app.inject({ method, url, headers: { cookie: book.cookie } })
      if (!gets.has(pattern)) expect([404, 405], `${method} ${url}`).toContain(reply.statusCode)
      expect(reply.statusCode, `${method} ${url}`).toBeLessThan(500)
    }
    if (!gets.has(pattern)) tried++
  }
  expect(tried).toBeGreaterThan(30)
  expect(digest()).toBe(before)
})

test('B33: HX-Request by hand is no way in, and no header comes back in an answer', async () => {
  const odd = {
    'hx-request': 'true',
    'hx-target': '<script>alert("odd-target")</script>',
    'hx-current-url': 'https://odd-current.example/',
    'x-forwarded-host': 'odd-host.example',
    'user-agent': '<b>odd-agent</b>',
    referer: 'https://odd-referer.example/<script>',
    'accept-language': '<i>odd-language</i>',
    'x-long': 'x'.repeat(6000),
  }
  for (const [pattern, [address = '']] of Object.entries(addresses)) {
    const stranger = await book.app.inject({ url: address, headers: odd })
    if (!['/join/:token', '/new-password/:token'].includes(pattern)) expect(stranger.statusCode, address).toBe(401)
    const mine = await book.get(address, odd)
    expect([200, 303], address).toContain(mine.statusCode)
    for (const reply of [stranger, mine])
      expect(`${JSON.stringify(reply.headers)}${reply.body}`, address).not.toMatch(/odd-(target|current|host|referer|language)/)
  }
  // What a browser calls itself is shown in one place, the list of sessions, and there as text.
  expect((await book.get('/account', odd)).body).not.toContain('<b>odd')
})

describe('B25: a query that is odd', () => {
  const queries = [
    ...['sort=id;drop', 'page=-1', 'page=1e9', 'page=99999999999999999999', 'size=1000000', 'page=2&page=3', 'a[]=1', 'a[b]=1', 'page[]=2'],
    ...['on=2026-02-30', 'on=1&on=2', 'condition=nothing', 'condition=a&condition=b', 'contains=%00', 'kind=x&kind=y'],
    ...[
      'verdict=fine&rule=none',
      'find=%25&q=%5C',
      '__proto__=1',
      'constructor=1',
      'kept=x',
      'like=x',
      `q=${'a'.repeat(5000)}`,
      '%',
      '=&=&&',
    ],
    'next=//evil.example',
  ]
  test.each(queries.map((query, n) => [query.slice(0, 40), query, n] as const))(
    '%s: a page answers in its own markup, and not with a fault',
    async (_, query, n) => {
      const before = digest()
      // Every page meets a few of them; all with all is a matter of requests at random.
      for (const [at, [address = '']] of Object.values(addresses).entries()) {
        if ((at + n) % 6 !== 0) continue
        const url = `${address.split('?')[0]}?${query}`
        const reply = await book.get(url)
        expect([200, 303, 404, 422], url).toContain(reply.statusCode)
        if (reply.statusCode === 303) expect(String(reply.headers.location), url).toMatch(/^\/[a-z]/)
        else expect(faultsOf(reply.body), url).toEqual([])
      }
      expect(digest()).toBe(before)
    },
    120_000,
  )
})

/** Forms that end what the tests stand on, or take long. */
const LEFT_OUT =
  /^\/sessions\/end|\/ends$|password|second-factor|first-run|restorations|backups|leave|departures|access|roles|webhooks|revocations|\/trash$/

async function everyForm(): Promise<ReadonlyMap<string, FormOf>> {
  const forms = new Map<string, FormOf>()
  for (const address of Object.values(addresses).flatMap((those) => those.slice(0, 2)))
    for (const form of formsOf((await book.get(address)).body))
      if (form.action.startsWith('/') && !LEFT_OUT.test(form.action))
        forms.set(`${form.action.replaceAll(/[0-9a-f]{8}-[0-9a-f-]{27}/g, ':id')} ${form.fields.map(({ name }) => name).join()}`, form)
  return forms
}

test('B4: fields that nobody asked for are taken by no form, and no role or household changes', async () => {
  const planted = '0190dead-0000-7000-8000-00000000dead'
  const extra = {
    ...{ role: 'owner', household_id: planted, householdId: planted, person_id: planted, personId: planted, recorded_by: planted },
    ...{ recordedBy: planted, vehicle_id: planted, vehicleId: planted, place_id: planted, corrects_id: planted, form_secret: planted },
    ...{ __proto__x: planted, constructor: planted, prototype: planted, disabled_at: planted, token_hash: planted },
  }
  const people = () => JSON.stringify(book.db.$client.prepare('SELECT id, household_id, role, disabled_at FROM people ORDER BY id').all())
  const before = people()
  const statuses: number[] = []
  for (const form of (await everyForm()).values()) {
    const own = Object.fromEntries(
      form.fields.filter(({ name }) => name !== '_token').map((one) => [one.name, one.value === '' && one.isText ? 'Words' : one.value]),
    )
    const added = Object.fromEntries(Object.entries(extra).filter(([name]) => !(name in own)))
    const reply = await book.post(form.action, { ...own, ...added })
    expect(reply.statusCode, form.action).toBeLessThan(500)
    statuses.push(reply.statusCode)
  }
  expect(statuses.filter((status) => status === 303 || status === 201).length).toBeGreaterThan(10)
  expect(people()).toBe(before)
  for (const table of book.db.$client.prepare("SELECT name FROM sqlite_schema WHERE type = 'table'").pluck().all() as string[])
    for (const row of book.db.$client.prepare(`SELECT * FROM "${table}"`).all())
      expect(JSON.stringify(row), table).not.toContain('0190dead')
  expect(({} as { role?: unknown }).role).toBeUndefined()
}, 300_000)

test('B22, B23: what is typed in any field of any form is shown as it was typed, and nothing of it is markup', async () => {
  const TYPED = `<b22 onclick=x>"'&{{7*7}}\${7*7}[l](javascript:x)`
  const escaped = `&lt;b22 onclick=x&gt;&quot;&#39;&amp;{{7*7}}\${7*7}[l](javascript:x)`
  const led: string[] = []
  let typed = 0
  for (const form of (await everyForm()).values()) {
    const texts = form.fields.filter((field) => field.isText && field.maxLength >= TYPED.length)
    if (texts.length === 0) continue
    typed += texts.length
    const own = Object.fromEntries(
      form.fields.filter(({ name }) => name !== '_token').map((one) => [one.name, texts.includes(one) ? TYPED : one.value]),
    )
    const reply = await book.post(form.action, own)
    expect(reply.statusCode, form.action).toBeLessThan(500)
    if (reply.statusCode === 303) led.push(String(reply.headers.location))
    expect(reply.body, form.action).not.toContain('<b22')
    if (String(reply.headers['content-type']).startsWith('text/html') && reply.body.startsWith('<!doctype'))
      expect(faultsOf(reply.body), form.action).toEqual([])
  }
  expect(typed).toBeGreaterThan(20)
  let shown = 0
  for (const url of new Set([
    ...led,
    ...Object.values(addresses).flatMap((those) => those.slice(0, 3)),
    '/search?q=b22',
    '/vehicles/new',
  ])) {
    const { body } = await book.get(url)
    expect(body, url).not.toContain('<b22')
    expect(body, url).not.toMatch(/href="javascript:|49\[l\]/)
    if (body.startsWith('<!doctype')) expect(faultsOf(body), url).toEqual([])
    if (body.includes(escaped)) shown++
  }
  expect(shown).toBeGreaterThan(5)
  // Feeds and the API carry the same words: neither as markup nor as JSON that a page could take for its own.
  const api = await book.ask(`/api/vehicles/${ids.vehicle}/entries`)
  expect(api.headers['content-type']).toBe('application/json; charset=utf-8')
}, 300_000)

test.each([
  ['a NUL', 'a\u0000b'],
  ['more than a megabyte', 'x'.repeat(1_100_000)],
])('B22: %s in a text is refused in words, and nothing is kept', async (_, text) => {
  const V = `/vehicles/${ids.vehicle}`
  const before = digest()
  const page = await book.post(`${V}/entries`, { verb: 'noted', component: 'r7', on: '2026-11-20', title: 'Seen', text })
  expect(page.statusCode).toBe(422)
  expect(page.body).toMatch(/cannot be kept|At most/)
  expect((await book.post('/vehicles', { name: text, systemVoltage_V: '12' })).statusCode).toBe(422)
  expect(digest()).toBe(before)
})

test('B36: a field twice as long takes no more than about twice as long to look at', async () => {
  const forms = [...(await everyForm()).values()].filter((form) => form.fields.some(({ isText }) => isText))
  const took = async (form: FormOf, length: number): Promise<number> => {
    const own = Object.fromEntries(form.fields.filter(({ name }) => !name.startsWith('_')).map((one) => [one.name, 'a'.repeat(length)]))
    let best = Number.POSITIVE_INFINITY
    for (let n = 0; n < 3; n++) {
      const begun = process.cpuUsage()
      const reply = await book.post(form.action, own)
      expect(reply.statusCode, form.action).toBeLessThan(500)
      const { user, system } = process.cpuUsage(begun)
      best = Math.min(best, (user + system) / 1000)
    }
    return best
  }
  expect(forms.length).toBeGreaterThan(15)
  for (const form of forms) {
    const [half, whole] = [await took(form, 25_000), await took(form, 50_000)]
    // Backtracking over the square takes four times as long, exponential far more. What is quick altogether tells nothing.
    if (whole > 60) expect(whole / half, `${form.action}: ${half} and ${whole} ms`).toBeLessThan(3.5)
  }
}, 300_000)

test('a door that is closed to a viewer: every form but those of the own account answers 403', async () => {
  book.db.$client.prepare("UPDATE people SET role = 'viewer' WHERE id = ?").run(book.actor.personId)
  const own = /^\/(account|confirm|sessions|join|new-password|first-run)/
  const before = digest()
  for (const { url } of writes().filter((one) => !own.test(one.url)))
    expect((await book.post(url, { name: 'x' })).statusCode, url).toBe(403)
  expect(digest()).toBe(before)
  book.db.$client.prepare("UPDATE people SET role = 'owner' WHERE id = ?").run(book.actor.personId)
  expect(tokenIn((await book.get('/')).body)).toBe(book.token)
})
