import { readFileSync } from 'node:fs'
import { gzipSync } from 'node:zlib'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type Book, openBook } from './book.ts'
import { faultsOf, tagsOf, textOf } from './markup.ts'

let book: Book
let vehicle = ''
const get = (url: string) => book.get(url)
const post = (url: string, fields: Record<string, string>, headers: Record<string, string> = {}) => book.post(url, fields, headers)

beforeAll(async () => {
  book = await openBook()
  vehicle = book.vehicles[0] as string
})
afterAll(() => book.close())

function rowCount(): number {
  return ['entries', 'changes', 'parts', 'part_revisions', 'vehicles'].reduce(
    (sum, table) => sum + (book.db.$client.prepare(`SELECT count(*) AS n FROM ${table}`).get() as { n: number }).n,
    0,
  )
}

const wire = (fields: Record<string, string>) => ({
  ...{ from: 'block:1', rows: '1', 'type-0': 'conductor', 'size-0': '2.5', 'length-0': '1', on: '2026-11-20', do: 'save' },
  ...fields,
})
const cut = (fields: Record<string, string>) => ({
  ...{ conductor: 'main-lead', near: '0.2', type: 'fuse', name: 'Fuse Q', figure: '80', on: '2026-11-20', do: 'save' },
  ...fields,
})
const position = (fields: Record<string, string>) => ({
  ...{ box: 'block', count: '1', 'position-0': 'X1', 'rating-0': '10', on: '2026-11-20', do: 'save' },
  ...fields,
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
  ['a chain with a length below zero', 'chains', wire({ 'length-0': '-2' }), 'length-0'],
  [
    'a chain with a return in words',
    'chains',
    wire({ return: 'ground-bay:1', 'return-size': 'some', 'return-length': '1' }),
    'return-size',
  ],
  ['a chain on a day to come', 'chains', wire({ on: '2027-01-01' }), 'on'],
  ['a chain that hangs loose', 'chains', wire({}), 'type-0'],
  ['a chain that starts nowhere', 'chains', wire({ from: 'block:1', return: 'ghost:1' }), 'return'],
  ['an unfinished change without a word', 'unfinished', { components: 'block', text: '' }, 'text'],
  ['a cut without a name', 'components/main-lead/inserts', cut({ name: '' }), 'name'],
  ['a cut beyond the end of the wire', 'components/main-lead/inserts', cut({ near: '190' }), 'near'],
  ['a cut nowhere', 'components/main-lead/inserts', cut({ near: '' }), 'near'],
  ['a cut of a wire elsewhere', 'components/r7/inserts', cut({ conductor: 'main-lead' }), 'conductor'],
  ['a rating in words', 'components/main-lead/inserts', cut({ figure: 'plenty' }), 'figure'],
  ['a fuse box without a position', 'fuse-box', { box: 'block', count: '1', on: '2026-11-20', do: 'save' }, 'position-0'],
  ['a fuse box with a rating of zero', 'fuse-box', position({ 'rating-0': '0' }), 'rating-0'],
  ['a fuse box with a reading below zero', 'fuse-box', position({ 'reading-0': '-1' }), 'reading-0'],
  ['a fuse box with one position twice', 'fuse-box', position({ count: '3', 'position-2': 'X1' }), 'position-2'],
  ['a nameless vehicle', '/vehicles', { name: '', systemVoltage_V: '24' }, 'name'],
  ['a document that is none', '/vehicles/import', { document: '{"format":' }, 'document'],
  ['a nameless part', '/parts', { kind: 'fuse', name: '', rated_A: '15', 'grade-rated_A': 'marked' }, 'name'],
  ['a part with a rating of zero', '/parts', { kind: 'fuse', name: 'Fuse', rated_A: '0' }, 'rated_A'],
  ['a part with a rating in words', '/parts', { kind: 'fuse', name: 'Fuse', rated_A: 'ten' }, 'rated_A'],
  ['a part of no kind', '/parts', { kind: 'gearbox', name: 'Box' }, 'kind'],
]

function escaped(text: string): string {
  return text.replaceAll(/[.*+?^${}()|[\]\\/]/g, '\\$&')
}

describe('a refused form names the field, keeps what was typed and stores nothing', () => {
  test.each(refused)('%s', async (_, path, fields, field) => {
    const before = rowCount()
    const reply = await post(path.startsWith('/') ? path : `/vehicles/${vehicle}/${path}`, fields)
    expect(reply.statusCode).toBe(422)
    expect(faultsOf(reply.body)).toEqual([])
    // The summary takes the focus and leads to the field; the field is marked and says what is wrong with it.
    expect(reply.body).toMatch(/<div class="faults" id="faults" role="alert" tabindex="-1" autofocus>/)
    expect(reply.body).toContain(`href="#${field}"`)
    const control = tagsOf(reply.body).find((tag) => tag.attributes.get('id') === field)
    expect(control, field).toBeDefined()
    if (control?.attributes.get('type') !== 'hidden') {
      expect(control?.attributes.get('aria-invalid')).toBe('true')
      expect(control?.attributes.get('aria-describedby')).toBe(`${field}-fault`)
      expect(reply.body).toMatch(new RegExp(`id="${field}-fault">[^<]{5,}<`))
    }
    // Everything typed is there again, but passwords.
    const printed = reply.body.replaceAll('&quot;', '"').replaceAll('&#39;', "'").replaceAll('&amp;', '&')
    for (const [name, typed] of Object.entries(fields)) {
      if (typed === '' || ['do', 'password'].includes(name) || (name === field && ['select', 'fieldset'].includes(control?.name ?? '')))
        continue
      expect(printed, name).toMatch(new RegExp(`(value="${escaped(typed)}"|>${escaped(typed)}</textarea>)`))
    }
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
  expect(textOf(fixed)).toMatch(/was over Relay R7, work lamps 24\.\d of 20 A/)
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
    const text = readFileSync(`${import.meta.dirname}/../networks/${name}.json`, 'utf8')
    const done = await post('/vehicles/import', { document: text })
    expect(done.statusCode).toBe(303)
    const page = await get(done.headers.location as string)
    expect(page.statusCode).toBe(200)
    expect(tagsOf(page.body).length).toBeLessThanOrEqual(1500)
    expect(gzipSync(page.body).length).toBeLessThanOrEqual(30_000)
    const keys = (JSON.parse(text) as { components: { key: string }[] }).components.map((component) => component.key)
    for (const key of name === 'small' ? keys : keys.filter((_, n) => n % 20 === 0))
      expect((await get(`${done.headers.location}/components/${key}`)).statusCode, key).toBe(200)
  }
}, 120_000)

test('a vehicle document comes from a file too: once however often it is sent, shown where it is refused, and only as text', async () => {
  const text = readFileSync(`${import.meta.dirname}/../networks/small.json`, 'utf8')
  const named = (name: string) => Buffer.from(text.replace(/"name": ?"[^"]+"/, `"name":"${name}"`))
  const once = /name="once" value="([^"]+)"/.exec((await book.get('/vehicles/import')).body)?.[1] as string
  const sent = (bytes: Buffer) =>
    book.send('/vehicles/import', { files: [{ name: 'vehicle.json', bytes, type: 'application/json' }], fields: { once } })
  const replies = [await sent(named('From a file')), await sent(named('From a file')), await sent(named('Another file'))]
  expect(replies.map((reply) => reply.statusCode)).toEqual([303, 303, 303])
  expect(replies[1]?.headers.location).toBe(replies[0]?.headers.location)
  expect(replies[2]?.headers.location).not.toBe(replies[0]?.headers.location)
  expect((await book.get(replies[0]?.headers.location as string)).body).toContain('From a file')
  const refused = await sent(Buffer.from('{"format": 3'))
  expect(refused.statusCode).toBe(422)
  expect(faultsOf(refused.body)).toEqual([])
  expect(refused.body).toContain('{&quot;format&quot;: 3')
  const binary = await sent(Buffer.from([0x7b, 0xff, 0xfe, 0x7d]))
  expect(binary.statusCode).toBe(422)
  expect(textOf(binary.body)).toContain('not text in UTF-8')
  expect((await sent(Buffer.alloc(5_000_001, 0x20))).statusCode).toBe(422)
})
