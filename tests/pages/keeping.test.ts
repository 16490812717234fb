/** The shelf's pages: comparing, buying, leftovers, failures, decisions, costs; and what an entry offers afterwards. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { partsById } from '../../server/records/part-rows.ts'
import { createPart } from '../../server/records/parts.ts'
import { stateOn } from '../../server/records/state.ts'
import { stockOf } from '../../server/records/stock.ts'
import { type Book, openBook } from './book.ts'
import { faultsOf, insideOf, tagsOf, textOf } from './markup.ts'

let book: Book
let V = ''
beforeAll(async () => {
  book = await openBook()
  V = `/vehicles/${book.vehicles[0]}`
})
afterAll(() => book.close())

const partNamed = (name: string) => [...partsById(book.db, book.actor).values()].find((part) => part.name === name)?.id as string
const make = (kind: string, name: string, ratings: Record<string, number | string>, evidence: Record<string, 'datasheet'> = {}) => {
  const made = createPart(book.db, book.clock, book.actor, { kind, name, ratings, evidence })
  if (!made.ok) throw new Error(made.refusals[0]?.sentence)
  return made.value.id
}
const compare = async (...ids: readonly string[]) => book.get(`/parts/compare?${ids.map((id) => `part=${id}`).join('&')}`)
/** A row of the comparison as its cells read. */
const row = (body: string, label: string) => {
  const found = [...body.matchAll(/<tr><th scope="row">(.*?)<\/th>(.*?)<\/tr>/gs)].find((one) => textOf(one[1] as string).startsWith(label))
  return [...(found?.[2] ?? '').matchAll(/<td[^>]*>(.*?)<\/td>/gs)].map((one) => textOf(one[1] as string))
}

describe('parts side by side', () => {
  test('the better figure is said in words; what is not known is neither; a voltage to match is not judged', async () => {
    const a = make('fuse', 'Fuse A', { rated_A: 30, rated_V: 32, breaking_A: 1000, resistance_ohm: 0.003 }, { breaking_A: 'datasheet' })
    const b = make('fuse', 'Fuse B', { rated_A: 40, rated_V: 58, breaking_A: 2000, resistance_ohm: 0.002 })
    const c = make('fuse', 'Fuse C', { rated_A: 30, rated_V: 58 })
    const two = (await compare(a, b)).body
    expect(faultsOf(two)).toEqual([])
    expect(row(two, 'Breaking capacity')).toEqual(['1000 A datasheet', '2000 A ◂ better assumed'])
    expect(row(two, 'Resistance')).toEqual(['0.003 Ω assumed', '0.002 Ω ◂ better assumed'])
    expect(row(two, 'Rated current')).toEqual(['30 A assumed', '40 A assumed'])
    expect(two).toMatch(/<span class="figures pencilled">2000 A/)
    expect(two).toMatch(/<span class="figures">1000 A/)
    const three = (await compare(a, b, c)).body
    expect(row(three, 'Breaking capacity')).toEqual(['1000 A datasheet', '2000 A ◂ better, of those known assumed', 'not known'])
    expect(row(three, 'Rated voltage')).toEqual(['32 V assumed', '58 V ◂ best assumed', '58 V ◂ best assumed'])
    expect(row((await compare(b, c)).body, 'Rated voltage')).toEqual(['58 V assumed', '58 V assumed'])
    expect(row((await compare(a, c)).body, 'Breaking capacity')).toEqual(['1000 A datasheet', 'not known'])
    const batteries = [12, 24].map((nominal_V) => make('battery', `Battery ${nominal_V}`, { nominal_V, capacity_Ah: 80 }))
    expect(row((await compare(...batteries)).body, 'Nominal voltage')).toEqual(['12 V assumed', '24 V assumed'])
  })

  test.each([
    ['one part', () => ['5 A blade fuse, type C'], 422, 'at least two'],
    ['the same part twice', () => ['5 A blade fuse, type C', '5 A blade fuse, type C'], 422, 'at least two'],
    ['two kinds', () => ['5 A blade fuse, type C', 'M8 ground stud'], 422, 'one kind'],
  ])('%s is refused in words', async (_, names, status, says) => {
    const reply = await compare(...names().map(partNamed))
    expect(reply.statusCode).toBe(status)
    expect(faultsOf(reply.body)).toEqual([])
    expect(textOf(reply.body)).toContain(says)
  })

  test('seven parts are too many, and a part that is not here is not found', async () => {
    const loads = [...partsById(book.db, book.actor).values()].filter((part) => part.kind === 'load').map((part) => part.id)
    expect(textOf((await compare(...loads.slice(0, 7))).body)).toContain('At most 6')
    expect((await compare(...loads.slice(0, 6))).statusCode).toBe(200)
    expect((await compare(loads[0] as string, 'ghost')).statusCode).toBe(404)
  })

  test('are chosen by tick boxes on the shelf', async () => {
    const { body } = await book.get('/shelf')
    expect(body).toContain('<form method="get" action="/parts/compare">')
    const boxes = tagsOf(body).filter((tag) => tag.attributes.get('type') === 'checkbox' && tag.attributes.get('name') === 'part')
    expect(boxes.length).toBeGreaterThan(20)
  })
})

describe('the part page', () => {
  test('a purchase adds to the count and gives the price of one, with the currency of the household', async () => {
    const id = partNamed('15 A blade fuse, type C')
    const before = stockOf(book.db, book.actor, id).inStock
    await book.post('/currency', { currency: 'kr' })
    expect(
      (await book.post(`/parts/${id}/purchases`, { bought: '2026-11-20', pieces: '10', paid: '4,99', supplier: 'Corner shop' })).statusCode,
    ).toBe(303)
    expect(stockOf(book.db, book.actor, id).inStock).toBe(before + 10)
    const { body } = await book.get(`/parts/${id}`)
    expect(faultsOf(body)).toEqual([])
    expect(textOf(body)).toContain('Price of one, last 0.50 kr')
    expect(textOf(body)).toContain('10 bought from Corner shop, 4.99 kr 20 November 2026')
    await book.post(`/parts/${id}/purchases`, { bought: '2026-11-21', pieces: '2', stays: 'yes' })
    expect(stockOf(book.db, book.actor, id).inStock).toBe(before + 10)
    const purchase = /name="purchase" value="([^"]+)"/.exec((await book.get(`/parts/${id}`)).body)?.[1] as string
    expect((await book.post(`/parts/${id}/purchase-removals`, { purchase })).statusCode).toBe(303)
    expect((await book.post(`/parts/${id}/purchase-removals`, { purchase })).statusCode).toBe(404)
  })

  test.each([
    ['purchases', { bought: '2026-11-20', pieces: '' }, 'pieces'],
    ['purchases', { bought: '2026-11-20', pieces: '0' }, 'pieces'],
    ['purchases', { bought: '2026-12-20', pieces: '1' }, 'bought'],
    ['purchases', { bought: '2026-11-20', pieces: '1', paid: '1.234,5' }, 'paid'],
    ['leftovers', { length: '', kept: 'Hook' }, 'length'],
    ['leftovers', { length: '0' }, 'length'],
    ['leftovers', { length: '-1' }, 'length'],
  ])('%s with %j is refused by its field and keeps what was typed', async (path, fields, field) => {
    const id = partNamed('4 mm² copper, 105 °C')
    const reply = await book.post(`/parts/${id}/${path}`, fields as Record<string, string>)
    expect(reply.statusCode).toBe(422)
    expect(faultsOf(reply.body)).toEqual([])
    expect(insideOf(reply.body, `${field}-fault`).length).toBeGreaterThan(3)
    for (const typed of Object.values(fields)) if (typed !== '') expect(reply.body).toContain(`value="${typed}"`)
    expect(stockOf(book.db, book.actor, id).inStock).toBe(0)
  })

  test('a piece of wire is kept, shortened, never lengthened, used up', async () => {
    const id = partNamed('6 mm² copper, 105 °C')
    await book.post(`/parts/${id}/leftovers`, { length: '4.2', kept: 'Hook 3' })
    const piece = /name="piece" value="([^"]+)"/.exec((await book.get(`/parts/${id}`)).body)?.[1] as string
    await book.post(`/parts/${id}/leftover-cuts`, { piece, [`now-${piece}`]: '1.5' })
    expect(textOf((await book.get(`/parts/${id}`)).body)).toContain('Left over 1.5 m in all')
    expect(textOf((await book.get('/shelf?contains=6 mm')).body)).toContain('1.5 m left over')
    const longer = await book.post(`/parts/${id}/leftover-cuts`, { piece, [`now-${piece}`]: '2' })
    expect(longer.statusCode).toBe(422)
    expect(insideOf(longer.body, `now-${piece}-fault`)).toContain('does not grow')
    await book.post(`/parts/${id}/leftover-cuts`, { piece, used: 'yes', [`now-${piece}`]: '' })
    expect((await book.get(`/parts/${id}`)).body).not.toContain('name="piece"')
    expect((await book.post(`/parts/${id}/leftover-cuts`, { piece, used: 'yes' })).statusCode).toBe(404)
    expect((await book.get(`/parts/${partNamed('5 A blade fuse, type C')}`)).body).not.toContain('id="leftovers"')
  })
})

describe('a part that failed', () => {
  test('is named with its place, day and time of service, and a look at every other one goes on each list with one form', async () => {
    // The left dipped-beam lamp failed in Bramble on 17 February 2024; the same part is at the right, and at the left again.
    const id = partNamed('Dipped-beam lamp')
    const page = (await book.get(`/parts/${id}`)).body
    // It was there from 10 April 2021: two years and ten months.
    expect(textOf(page)).toContain('Failed in Bramble, Dipped beam, left, on 17 February 2024, after 2 years ')
    const href = /href="(\/parts\/[^"]+\/inspections\/new\?failed=[^"]+)"/.exec(page)?.[1] as string
    const form = (await book.get(href)).body
    expect(faultsOf(form)).toEqual([])
    const boxes = tagsOf(form).filter((tag) => tag.attributes.get('type') === 'checkbox')
    const state = (n: number) => stateOn(book.db, book.actor, book.vehicles[n] as string)
    const held = [0, 1, 2].flatMap((n) =>
      [...state(n).components.values()].filter((one) => one.part === id).map((one) => [n, one.key] as const),
    )
    expect(boxes).toHaveLength(held.length)
    const ticked = boxes.filter((tag) => tag.attributes.has('checked')).map((tag) => tag.attributes.get('name') as string)
    expect(ticked).not.toContain(`look-${book.vehicles[0]}-dip-left`)
    expect(ticked).toHaveLength(held.length - 1)
    const once = /name="once" value="([^"]+)"/.exec(form)?.[1] as string
    const fields = { once, what: 'Look at the lamp', by: '2026-12-24', ...Object.fromEntries(ticked.map((name) => [name, 'yes'])) }
    const count = () => Number(book.db.$client.prepare('SELECT count(*) FROM entries').pluck().get())
    const before = count()
    expect((await book.post(`/parts/${id}/inspections`, fields)).headers.location).toBe('/due')
    const after = count()
    await book.post(`/parts/${id}/inspections`, fields)
    expect(count()).toBe(after)
    const touched = new Set(held.filter(([n, key]) => ticked.includes(`look-${book.vehicles[n]}-${key}`)).map(([n]) => n))
    expect(after - before).toBe(touched.size)
    for (const [n, key] of held)
      expect(
        [...state(n).due.values()].some((one) => one.component === key && one.what === 'Look at the lamp' && one.on === '2026-12-24'),
        key,
      ).toBe(ticked.includes(`look-${book.vehicles[n]}-${key}`))
    expect((await book.get(href)).body).toContain('on the list already')
    const none = await book.post(`/parts/${id}/inspections`, { what: 'x', by: '2026-12-24' })
    expect(none.statusCode).toBe(422)
    expect(none.body).toContain('Tick at least one place')
  })

  test('is met on the page of the entry that took it out', async () => {
    const saved = await book.post(`${V}/entries`, {
      ...{ verb: 'swapped', component: 'r4', part: partNamed('40 A make relay, mini'), fate: 'failed', on: '2026-11-24', do: 'save' },
    })
    const page = (await book.get(saved.headers.location as string)).body
    // R4 held the smaller relay; the folded state of every vehicle says where else it is.
    const small = partNamed('20 A make relay, micro')
    const others = book.vehicles.flatMap((id) =>
      [...stateOn(book.db, book.actor, id).components.values()].filter((one) => one.part === small),
    )
    expect(others.length).toBeGreaterThan(1)
    expect(textOf(page)).toContain(`20 A make relay, micro failed here. It is fitted in ${others.length} other places now.`)
    expect(page).toContain(`failed=${book.vehicles[0]}:r4`)
    const shelved = await book.post(`${V}/entries`, {
      ...{ verb: 'swapped', component: 'r4', part: partNamed('40 A make relay, mini'), fate: 'shelf', on: '2026-11-25', do: 'save' },
    })
    expect((await book.get(shelved.headers.location as string)).body).not.toContain('failed here')
  })
})

test('what the trade looks at again is offered after fitting, marked as common practice, and set by one tap only', async () => {
  const fields = {
    verb: 'fitted',
    name: 'Rear ground',
    part: partNamed('M8 ground stud'),
    on: '2026-11-25',
    odometer: '224000',
    do: 'save',
  }
  const saved = await book.post(`${V}/entries`, fields)
  const due = () =>
    [...stateOn(book.db, book.actor, book.vehicles[0] as string).due.values()].filter((one) => one.component === 'rear-ground')
  const page = (await book.get(saved.headers.location as string)).body
  expect(faultsOf(page)).toEqual([])
  expect(textOf(page)).toContain('Retorque the terminals of Rear ground 25 December 2026 or 224 500 km · common practice.')
  expect(due()).toEqual([])
  const form = /<form method="post" action="[^"]+due-items">(.*?)<\/form>/s.exec(page)?.[1] as string
  const given = Object.fromEntries(
    tagsOf(form).flatMap((tag) =>
      tag.name === 'input' ? [[tag.attributes.get('name') as string, tag.attributes.get('value') as string]] : [],
    ),
  )
  expect((await book.post(`${V}/due-items`, given)).statusCode).toBe(303)
  expect(due()).toMatchObject([{ key: 'retorque-rear-ground', on: '2026-12-25', odometer_km: 224500 }])
  expect((await book.get(saved.headers.location as string)).body).not.toContain('Retorque the terminals of Rear ground')
})

test('a decision is noted from the comparison and stands on both parts’ pages and on the component’s', async () => {
  const [small, large] = [partNamed('20 A make relay, micro'), partNamed('40 A make relay, mini')]
  const side = (await compare(small, large)).body
  const href = String(/href="(\/decisions\/new\?[^"]+chosen=[^"]+)">Chose 40 A/.exec(side)?.[1]).replaceAll('&amp;', '&')
  const form = (await book.get(`${href}&vehicle=${book.vehicles[0]}`)).body
  expect(faultsOf(form)).toEqual([])
  expect(textOf(form)).toContain('Why not 20 A make relay, micro')
  const fields = {
    considered: `${small} ${large}`,
    chosen: large,
    component: 'r7',
    [`not-${small}`]: 'Too small for both lamps',
    'words-0': 'A solid-state one',
    on: '2026-11-25',
  }
  const refused = await book.post(`${V}/decisions`, { ...fields, why: '' })
  expect(refused.statusCode).toBe(422)
  expect(faultsOf(refused.body)).toEqual([])
  expect(refused.body).toContain('value="Too small for both lamps"')
  const saved = await book.post(`${V}/decisions`, { ...fields, why: 'It carries both with room.' })
  expect(saved.statusCode).toBe(303)
  const says = '40 A make relay, mini for Relay R7, work lamps, Bramble, chosen over 20 A make relay, micro, A solid-state one'
  for (const path of [`/parts/${small}`, `/parts/${large}`, `${V}/components/r7`]) {
    const text = textOf((await book.get(path)).body)
    expect(text, path).toContain(says)
    expect(text, path).toContain('It carries both with room. Not 20 A make relay, micro : Too small for both lamps')
  }
  expect((await book.get(`/decisions/new?vehicle=ghost`)).statusCode).toBe(404)
})

test('a sum is never shown without the currency of the household: in the journal, on an entry, between its versions, where one is typed', async () => {
  await book.post('/currency', { currency: 'kr' })
  const saved = await book.post(`${V}/entries`, { verb: 'noted', text: 'Paid for.', cost: '12,50', on: '2025-03-04', do: 'save' })
  const entry = saved.headers.location as string
  const costs = (body: string) => [...textOf(body).matchAll(/\d+\.\d\d(?!\d)( \S+)?/g)].map((one) => one[0])
  expect(costs((await book.get(`${V}/journal?contains=Paid for`)).body)).toEqual(['12.50 kr', '12.50 kr'])
  expect(textOf((await book.get(`${V}/journal`)).body)).toMatch(/cost \d+\.\d\d kr/)
  expect(textOf((await book.get(entry)).body)).toContain('Cost 12.50 kr')
  for (const form of [`${V}/entries/new`, `${entry}/correction`])
    expect((await book.get(form)).body).toContain('<label for="cost">Cost <span class="unit">kr</span></label>')
  const opened = (await book.get(entry)).body
  const mended = await book.post(`${entry}/corrections`, { title: 'Paid', text: 'Paid for.', on: '2025-03-04', cost: '13' })
  expect(textOf((await book.get(mended.headers.location as string)).body)).toContain('Cost 12.50 kr 13.00 kr changed')
  expect(opened).not.toContain('13.00')
  const clash = await book.post(`${entry}/corrections`, { title: 'Paid', text: 'Paid for.', on: '2025-03-04', cost: '14' })
  expect(clash.statusCode).toBe(409)
  expect(textOf(clash.body)).toContain('Cost, kr 12.50 13.00 14')
})

test('costs stand by vehicle and year with their sums, which the journals’ own entries make up', async () => {
  const { body } = await book.get('/costs')
  expect(faultsOf(body)).toEqual([])
  const cells = (label: string) => row(body, label)
  // Bramble's entries of 2024 and of 2026, added by hand: 9 + 299 + 980 + 24, and 74 + 42.
  expect(cells('2024')[0]).toBe('1312.00')
  expect(cells('2026')[0]).toBe('116.00')
  for (const found of body.matchAll(/<tr><th scope="row">\d{4}<\/th>(.*?)<\/tr>/gs)) {
    const figures = [...(found[1] as string).matchAll(/<td[^>]*>(.*?)<\/td>/gs)].map((one) => textOf(one[1] as string))
    const known = figures.slice(0, 3).filter((one) => one !== '–')
    if (known.length > 0)
      expect(Number(figures[3])).toBeCloseTo(
        known.reduce((sum, one) => sum + Number(one), 0),
        2,
      )
  }
  expect(textOf(body)).toContain('in kr')
  const refused = await book.post('/currency', { currency: '42' })
  expect(refused.statusCode).toBe(422)
  expect(insideOf(refused.body, 'currency-fault')).toContain('no figures')
})
