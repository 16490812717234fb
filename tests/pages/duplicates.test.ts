import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { documentOn } from '../../server/records/document-of.ts'
import { createPart, partOf, partsOf } from '../../server/records/parts.ts'
import { reportOn } from '../../server/records/projection.ts'
import { household, value } from '../records/book.ts'
import { type Book, openBook } from './book.ts'
import { faultsOf, insideOf, tagsOf, textOf } from './markup.ts'

let book: Book
let vehicle = ''
let V = ''

beforeAll(async () => {
  book = await openBook()
  vehicle = book.vehicles[0] as string
  V = `/vehicles/${vehicle}`
})
afterAll(() => book.close())

/** What a browser would send from the form: values, ticked choices, selected options. */
function filled(body: string): Readonly<Record<string, string>> {
  const tags = tagsOf(body)
  const plain = tags.filter((tag) => tag.name === 'input' && !['radio', 'checkbox'].includes(tag.attributes.get('type') ?? ''))
  const ticked = tags.filter((tag) => tag.name === 'input' && tag.attributes.has('checked'))
  const selects = tags
    .filter((tag) => tag.name === 'select')
    .map((tag) => {
      const inside = insideOf(body, tag.attributes.get('id') as string)
      const value = /<option value="([^"]*)" selected/.exec(inside) ?? /<option value="([^"]*)"/.exec(inside)
      return [tag.attributes.get('name') as string, value?.[1] ?? '']
    })
  const areas = tags
    .filter((tag) => tag.name === 'textarea')
    .map((tag) => [tag.attributes.get('name') as string, insideOf(body, tag.attributes.get('id') as string)])
  return Object.fromEntries([
    ...[...plain, ...ticked].map((tag) => [tag.attributes.get('name') ?? '', tag.attributes.get('value') ?? '']),
    ...selects,
    ...areas,
  ])
}

describe('an entry: "Log one like it" fills in all but its day and odometer', () => {
  const part = () => partsOf(book.db, book.actor, { contains: '20 A make relay, micro' })[0]?.id as string
  async function like(fields: Record<string, string>) {
    const saved = await book.post(`${V}/entries`, { on: '2026-11-20', text: 'Words of it.', title: 'A title', do: 'save', ...fields })
    expect(saved.statusCode).toBe(303)
    const href = /href="([^"]+)">Log one like it/.exec((await book.get(saved.headers.location as string)).body)?.[1] as string
    const page = await book.get(href)
    expect(page.statusCode).toBe(200)
    expect(faultsOf(page.body)).toEqual([])
    return filled(page.body)
  }

  test('a swap', async () => {
    const form = await like({ verb: 'swapped', component: 'r3', part: part(), fate: 'failed', cost: '12.5', odometer: '223700' })
    expect(form).toMatchObject({
      ...{ verb: 'swapped', component: 'r3', part: part(), fate: 'failed', cost: '12.50', text: 'Words of it.', title: 'A title' },
      ...{ on: '2026-11-25', odometer: '' },
    })
  })
  test('something fitted, a rerouting, a reading, a note of none in particular', async () => {
    expect(await like({ verb: 'fitted', name: 'Relay Z9', part: part() })).toMatchObject({ verb: 'fitted', name: 'Relay Z9', part: part() })
    expect(await like({ verb: 'rerouted', component: 'main-lead', length: '1.25' })).toMatchObject({
      ...{ verb: 'rerouted', component: 'main-lead', length: '1.25' },
    })
    expect(await like({ verb: 'measured', component: 'r7', quantity: 'current', value: '-3.5' })).toMatchObject({
      ...{ verb: 'measured', component: 'r7', quantity: 'current', value: '-3.5' },
    })
    expect(await like({ verb: 'noted' })).toMatchObject({ verb: 'noted', component: '', text: 'Words of it.' })
  })
  test('with words as long as they may be: the address stays short', async () => {
    const text = 'Long words. '.repeat(400).trim()
    expect((await like({ verb: 'noted', text })).text).toBe(text)
  })
  test('of another household, or none: an empty form', async () => {
    expect(filled((await book.get(`${V}/entries/new?like=ghost`)).body)).toMatchObject({ text: '', title: '' })
  })
})

describe('a part: "Another like it" fills in its ratings and how they are known', () => {
  // A named size is not on the form.
  const unseen = { ratings: { size: { system: 'AWG' as const, name: '14' } }, evidence: { size: 'marked' as const } }
  test('the form holds them, and what it does not show comes along', async () => {
    const made = createPart(book.db, book.clock, book.actor, {
      ...{ kind: 'fuse', name: 'Fuse K', ratings: { rated_A: 15, rated_V: 32, form: 'C', ...unseen.ratings } },
      evidence: { rated_A: 'marked', rated_V: 'datasheet', ...unseen.evidence },
    })
    const id = value(made).id
    const href = /href="([^"]+)">Another like it/.exec((await book.get(`/parts/${id}`)).body)?.[1] as string
    const page = await book.get(href)
    expect(faultsOf(page.body)).toEqual([])
    const form = filled(page.body.slice(page.body.indexOf('action="/parts"')))
    expect(form).toMatchObject({
      ...{ kind: 'fuse', name: 'Fuse K', rated_A: '15', 'grade-rated_A': 'marked', rated_V: '32', 'grade-rated_V': 'datasheet', form: 'C' },
    })
    const { _token, ...fields } = form
    const saved = await book.post('/parts', { ...fields, name: 'Fuse L', rated_A: '20' })
    expect(saved.statusCode).toBe(303)
    const copy = partOf(book.db, book.actor, (saved.headers.location as string).slice('/parts/'.length))
    expect(copy).toMatchObject({ kind: 'fuse', name: 'Fuse L', ratings: { rated_A: 20, rated_V: 32, form: 'C', ...unseen.ratings } })
    expect(copy?.evidence).toEqual({ rated_A: 'marked', rated_V: 'datasheet', ...unseen.evidence })
    expect(partOf(book.db, book.actor, id)).toMatchObject({ name: 'Fuse K', ratings: { rated_A: 15 } })
  })
  test('refused, it still is like the other, and keeps what was typed', async () => {
    const id = partsOf(book.db, book.actor, { contains: '20 A make relay, micro' })[0]?.id as string
    const reply = await book.post('/parts', { kind: 'relay', like: id, name: '', make_A: '25' })
    expect(reply.statusCode).toBe(422)
    expect(reply.body).toContain(`name="like" value="${id}"`)
    expect(reply.body).toMatch(/id="make_A"[^>]*value="25"/)
  })
  test('another household’s part is not copied', async () => {
    const other = household(book.db, book.clock, 'Other')
    const secret = value(createPart(book.db, book.clock, other, { kind: 'fuse', name: 'Secret', ratings: { rated_A: 3 } })).id
    expect((await book.get(`/shelf/new?like=${secret}`)).body).not.toContain('Secret')
  })
})

describe('a vehicle: "Start another like it"', () => {
  const stock = () => partsOf(book.db, book.actor).map((part) => [part.id, part.inStock])
  test('the new one is wired and judged as the other is today, in one entry, and nothing leaves the shelf', async () => {
    expect((await book.get(V)).body).toContain(`href="${V}/copies/new"`)
    const before = stock()
    const made = await book.post(`${V}/copies`, { name: 'Bramble the second', once: 'copy-1' })
    expect(made.statusCode).toBe(303)
    const copy = (made.headers.location as string).slice('/vehicles/'.length)
    const [was, is] = [documentOn(book.db, book.actor, vehicle), documentOn(book.db, book.actor, copy)]
    const byKey = <T extends { readonly key: string }>(list: readonly T[] = []) => [...list].sort((a, b) => (a.key < b.key ? -1 : 1))
    expect(byKey(is.components)).toEqual(byKey(was.components))
    expect(byKey(is.parts)).toEqual(byKey(was.parts))
    expect(byKey(is.zones)).toEqual(byKey(was.zones))
    expect(byKey(is.conditions)).toEqual(byKey(was.conditions))
    const ends = (joins: typeof is.joins) => joins.map((one) => [one.from, one.to].sort().join(' ')).sort()
    expect(ends(is.joins)).toEqual(ends(was.joins))
    expect(is.vehicle).toEqual({ ...was.vehicle, name: 'Bramble the second' })
    const verdicts = (id: string) =>
      reportOn(book.db, book.actor, id)
        .report.findings.map((one) => `${one.rule} ${one.component} ${one.verdict}`)
        .sort()
    expect(verdicts(copy)).toEqual(verdicts(vehicle))
    expect(stock()).toEqual(before)
    const journal = textOf((await book.get(`/vehicles/${copy}/journal`)).body)
    expect(journal).toContain('Recorded as a copy of Bramble')
    expect((await book.get(`/vehicles/${copy}`)).body).not.toContain('223 400 km')
    expect((await book.post(`${V}/copies`, { name: 'Bramble the second', once: 'copy-1' })).headers.location).toBe(made.headers.location)
  })
  test('without a name, or with one too long, nothing is made', async () => {
    const count = () => Number(book.db.$client.prepare('SELECT count(*) FROM vehicles').pluck().get())
    const before = count()
    for (const name of ['', 'x'.repeat(121)]) {
      const reply = await book.post(`${V}/copies`, { name })
      expect(reply.statusCode).toBe(422)
      expect(faultsOf(reply.body)).toEqual([])
      expect(reply.body).toContain('href="#name"')
    }
    expect((await book.post('/vehicles/ghost/copies', { name: 'A' })).statusCode).toBe(404)
    expect(count()).toBe(before)
  })
  test('an empty vehicle too', async () => {
    const made = await book.post('/vehicles', { name: 'Fern', systemVoltage_V: '24' })
    const copy = await book.post(`${made.headers.location}/copies`, { name: 'Fern 2' })
    expect(copy.statusCode).toBe(303)
    expect((await book.get(copy.headers.location as string)).statusCode).toBe(200)
  })
})
