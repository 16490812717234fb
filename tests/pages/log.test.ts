/** Past 200 lines: the log form, field by field. */
import { randomUUID } from 'node:crypto'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { dayNumber, oddReading } from '../../server/pages/log/odometer.ts'
import type { SavedEntry } from '../../server/records/contract.ts'
import { entryOf } from '../../server/records/journal.ts'
import { createPart, partsOf } from '../../server/records/parts.ts'
import { reportOn } from '../../server/records/projection.ts'
import { countStock, stockOf } from '../../server/records/stock.ts'
import { household, value } from '../records/book.ts'
import { type Book, openBook } from './book.ts'
import { faultsOf, insideOf, tagsOf, textOf } from './markup.ts'

let book: Book
let V = ''
let micro = ''

beforeAll(async () => {
  book = await openBook()
  V = `/vehicles/${book.vehicles[0]}`
  micro = partsOf(book.db, book.actor, { contains: '20 A make relay, micro' })[0]?.id as string
})
afterAll(() => book.close())

const log = (fields: Record<string, string>) => ({ verb: 'noted', on: '2026-11-20', text: 'Looked at.', do: 'save', ...fields })
const send = (fields: Record<string, string>) => book.post(`${V}/entries`, log(fields))
async function saved(fields: Record<string, string>): Promise<SavedEntry> {
  const reply = await send(fields)
  expect(reply.statusCode, textOf(insideOf(reply.body, 'faults'))).toBe(303)
  return entryOf(book.db, book.actor, (reply.headers.location as string).slice('/entries/'.length)) as SavedEntry
}
function counts(): readonly number[] {
  return ['entries', 'changes', 'parts', 'part_revisions'].map((table) =>
    Number(book.db.$client.prepare(`SELECT count(*) FROM ${table}`).pluck().get()),
  )
}
/** The form's fields as a browser would send them: checked, selected, typed. */
function control(body: string, id: string) {
  return tagsOf(body).find((tag) => tag.attributes.get('id') === id)
}

describe('every field of the form is kept in the entry', () => {
  test('a swap: component, part, fate, day, odometer, cost, words, title, and when to look again', async () => {
    const entry = await saved({
      ...{ verb: 'swapped', component: 'r3', part: micro, fate: 'failed', on: '2026-11-21', odometer: '223500', cost: '12,5' },
      ...{ text: 'Contacts burnt.', title: 'R3 again', again: '2027-02-01' },
    })
    expect(entry).toMatchObject({
      effectiveOn: '2026-11-21',
      odometer_km: 223500,
      cost_minor: 1250,
      title: 'R3 again',
      text: 'Contacts burnt.',
    })
    expect(entry.changes[0]).toEqual({ kind: 'swapped', component: 'r3', part: micro, fate: 'failed' })
    expect(entry.changes[1]).toMatchObject({
      kind: 'due-set',
      component: 'r3',
      what: 'Look at Relay R3, compressor again',
      on: '2027-02-01',
    })
  })
  test('something fitted, and looked at again under its new name', async () => {
    const entry = await saved({ verb: 'fitted', name: 'Relay Z1', part: micro, again: '2027-02-02' })
    expect(entry.changes[0]).toMatchObject({ kind: 'fitted', component: { name: 'Relay Z1', part: micro } })
    expect(entry.changes[1]).toMatchObject({ kind: 'due-set', what: 'Look at Relay Z1 again' })
    expect(entry.title).toBe('Relay Z1 fitted')
  })
  test('a rerouting, a reading, a service of one component, a note of none', async () => {
    expect((await saved({ verb: 'rerouted', component: 'main-lead', length: '1.2' })).changes).toEqual([
      { kind: 'rerouted', component: 'main-lead', length_m: 1.2 },
    ])
    expect((await saved({ verb: 'measured', component: 'r7', quantity: 'resistance', value: '82' })).changes).toEqual([
      { kind: 'measured', at: 'r7', quantity: 'resistance', value: 82 },
    ])
    expect((await saved({ verb: 'serviced', component: 'r7', text: 'Cleaned.' })).changes).toEqual([
      { kind: 'serviced', component: 'r7', text: 'Cleaned.' },
    ])
    expect((await saved({ text: 'Washed.' })).changes).toEqual([{ kind: 'noted', text: 'Washed.' }])
  })
  test('a note is called by how it begins, another job by what was done', async () => {
    expect((await saved({ text: 'Rattle behind the dash.\nGone when warm.' })).title).toBe('Rattle behind the dash.')
    expect((await saved({ component: 'r7', text: 'Looks tired.' })).title).toBe('Relay R7, work lamps: Looks tired.')
    expect((await saved({ text: 'a'.repeat(200) })).title).toBe(`${'a'.repeat(70)} …`)
    expect((await saved({ verb: 'serviced', component: 'r7', text: 'Cleaned.' })).title).toBe('Relay R7, work lamps serviced')
    expect((await saved({ text: '', title: 'Only a title' })).title).toBe('Only a title')
  })
  test('what another kind of work asks for is not read, whatever stands in it', async () => {
    const entry = await saved({ text: 'A note.', part: 'ghost', fate: 'exploded', length: 'far', value: 'much', name: 'x'.repeat(500) })
    expect(entry.changes).toEqual([{ kind: 'noted', text: 'A note.' }])
    const fitted = await saved({ verb: 'fitted', name: 'Relay Z2', part: micro, component: 'ghost', fate: 'exploded' })
    expect(fitted.changes.map((change) => change.kind)).toEqual(['fitted'])
  })
})

describe('a part that is not on the shelf yet is named on the form', () => {
  test('it is made with its main rating, in the same save as the entry', async () => {
    const entry = await saved({ verb: 'swapped', component: 'r7', part: 'new', 'new-name': 'Relay from the bin', 'new-figure': '30' })
    const part = partsOf(book.db, book.actor, { contains: 'Relay from the bin' })
    expect(part).toHaveLength(1)
    expect(part[0]).toMatchObject({ kind: 'relay', ratings: { make_A: 30 } })
    expect(entry.changes[0]).toMatchObject({ kind: 'swapped', component: 'r7', part: part[0]?.id })
    expect(entry.title).toBe('Relay R7, work lamps swapped for Relay from the bin')
  })
  test('of another kind, for something fitted, with a rating nobody knows', async () => {
    await saved({
      verb: 'fitted',
      name: 'House battery 2',
      part: 'new',
      'new-name': 'Old battery',
      'new-kind': 'battery',
      'new-figure': '',
    })
    expect(partsOf(book.db, book.actor, { contains: 'Old battery' })[0]).toMatchObject({ kind: 'battery', ratings: {} })
  })
  test.each<[string, Record<string, string>, string]>([
    ['no name', { 'new-name': '' }, 'new-name'],
    ['a figure in words', { 'new-figure': 'plenty' }, 'new-figure'],
    ['a figure of zero', { 'new-figure': '0' }, 'new-figure'],
    ['a kind that is none', { 'new-kind': 'gearbox' }, 'new-kind'],
    ['nothing to tell its kind from', { verb: 'fitted', name: 'Thing' }, 'new-kind'],
    ['an entry that cannot be kept', { on: '2026-02-30' }, 'on'],
  ])('%s: refused, and neither part nor entry is stored', async (_, fields, field) => {
    const before = counts()
    const reply = await send({ verb: 'swapped', component: 'r7', part: 'new', 'new-name': 'Never', 'new-figure': '30', ...fields })
    expect(reply.statusCode).toBe(422)
    expect(reply.body).toContain(`href="#${field}"`)
    expect(control(reply.body, field)?.attributes.get('aria-invalid')).toBe('true')
    expect(control(reply.body, 'part-new')?.attributes.has('checked')).toBe(true)
    expect(counts()).toEqual(before)
  })
  test('a part that fits nowhere leaves no part behind: the wire on a terminal that it lacks is asked for first', async () => {
    const before = counts()
    const reply = await send({
      verb: 'swapped',
      component: 'r3',
      part: 'new',
      'new-name': 'Toggle',
      'new-kind': 'switch',
      'new-figure': '30',
    })
    expect(reply.statusCode).toBe(422)
    expect(reply.body).toContain('id="terminal-30"')
    expect(counts()).toEqual(before)
  })
  test('it can be tried before it is there', async () => {
    const before = counts()
    // R1 carries both dipped-beam lamps: 2 × 4.4 A.
    const fields = { verb: 'swapped', component: 'r1', part: 'new', 'new-name': 'Weak one', 'new-figure': '5', do: 'try' }
    const reply = await send(fields)
    expect(textOf(insideOf(reply.body, 'tried'))).toMatch(/Would also add the part “Weak one”.*8\.8 A of its 5 A/)
    expect(counts()).toEqual(before)
  })
  test('the same form twice makes one part and one entry', async () => {
    const fields = { verb: 'swapped', component: 'r7', part: 'new', 'new-name': 'Once only', 'new-figure': '30', once: randomUUID() }
    const first = await send(fields)
    const after = counts()
    expect((await send(fields)).headers.location).toBe(first.headers.location)
    expect(counts()).toEqual(after)
  })
})

describe('B26: the odometer is asked about once where it does not go with the other readings', () => {
  const readings = [
    { on: '2025-06-01', odometer_km: 100_000 },
    { on: '2026-06-01', odometer_km: 120_000 },
  ]
  // Allowed: 5,000 km and 200 km for each day since. Ten days after: up to 7,000.
  test.each<[string, number, string, string]>([
    ['lower than the last', 119_999, '2026-06-11', 'The last reading was 120 000 km on 1 June 2026'],
    ['the same as the last', 120_000, '2026-06-11', ''],
    ['as far as is plausible', 127_000, '2026-06-11', ''],
    ['a kilometre further', 127_001, '2026-06-11', 'That is 7 001 km more than on 1 June 2026'],
    ['higher than a later one', 120_001, '2026-05-01', 'A later reading, of 1 June 2026, is 120 000 km'],
    ['between two', 110_000, '2026-01-01', ''],
    ['before the first', 90_000, '2024-01-01', ''],
    ['ten times too much', 1_200_000, '2026-06-11', 'more than on 1 June 2026'],
  ])('%s', (_, odometer_km, on, says) => {
    if (says === '') expect(oddReading({ odometer_km, on, readings })).toBe('')
    else expect(oddReading({ odometer_km, on, readings })).toContain(says)
  })
  test('days are counted over months and leap years as a calendar does', () => {
    for (const [from, to, days] of [
      ['2024-02-28', '2024-03-01', 2],
      ['2025-02-28', '2025-03-01', 1],
      ['2025-12-31', '2026-01-01', 1],
      ['2000-01-01', '2001-01-01', 366],
      ['1900-02-28', '1900-03-01', 1],
    ] as const)
      expect(dayNumber(to) - dayNumber(from)).toBe(days)
  })
  test('the last reading is shown, a lower one needs a tick, and the tick answers for that figure only', async () => {
    expect(textOf((await book.get(`${V}/entries/new`)).body)).toMatch(/last 22\d \d{3} km, \d+ \w+ 2026/)
    const asked = await send({ odometer: '1000', on: '2026-11-25' })
    expect(asked.statusCode).toBe(422)
    expect(control(asked.body, 'as-typed')?.attributes.get('value')).toBe('1000')
    expect((await send({ odometer: '1001', on: '2026-11-25', 'as-typed': '1000' })).statusCode).toBe(422)
    const entry = await saved({ odometer: '1000', on: '2026-11-25', 'as-typed': '1000' })
    expect(entry.odometer_km).toBe(1000)
    await book.post(`/entries/${entry.id}/withdrawals`, {})
  })
})

describe('parts to choose from, as a piece at its own address', () => {
  const choices = (query: Record<string, string>) => book.get(`${V}/entries/part-choices?${new URLSearchParams(query)}`)

  test('name, main rating, how many and where; the kind in place first', async () => {
    const part = value(createPart(book.db, book.clock, book.actor, { kind: 'relay', name: 'Zz relay', ratings: { make_A: 55 } })).id
    value(countStock(book.db, book.clock, book.actor, part, 2, 'box 3'))
    const { body } = await choices({ component: 'r3', q: '' })
    expect(body).not.toContain('<html')
    const rows = [...body.matchAll(/<li>(.*?)<\/li>/g)].map((found) => textOf(found[1] as string))
    expect(rows).toContain('Zz relay 55 A 2 on the shelf, box 3')
    // Relays in stock, then relays, before anything else.
    const stocked = rows.map((row) => !row.includes('none on the shelf'))
    expect(stocked).toEqual([...stocked].sort((a, b) => Number(b) - Number(a)))
    expect(rows.length).toBeLessThanOrEqual(8)
    expect(textOf((await choices({ component: 'r3', q: 'box 3' })).body)).toBe('Zz relay 55 A 2 on the shelf, box 3 One part.')
  })
  test('the one already chosen stays, checked, and first', async () => {
    const { body } = await choices({ component: 'r3', q: 'fuse', part: micro })
    const [first, ...rest] = tagsOf(body).filter((tag) => tag.name === 'input')
    expect(first?.attributes.get('value')).toBe(micro)
    expect(first?.attributes.has('checked')).toBe(true)
    expect(rest.every((tag) => !tag.attributes.has('checked'))).toBe(true)
  })
  test('names and words are shown as typed, never as markup', async () => {
    value(createPart(book.db, book.clock, book.actor, { kind: 'relay', name: '"><script>alert(1)</script> relay', ratings: {} }))
    const found = await choices({ q: '<script>' })
    expect(found.body).toContain('&lt;script&gt;alert(1)')
    expect(found.body).not.toContain('<script')
    const none = await choices({ q: '<b>nothing</b>' })
    expect(none.body).toContain('&lt;b&gt;nothing')
  })
  test('another household’s parts are never offered, nor its vehicles answered for', async () => {
    const other = household(book.db, book.clock, 'Stranger')
    const part = value(createPart(book.db, book.clock, other, { kind: 'relay', name: 'Stranger relay', ratings: { make_A: 5 } })).id
    expect((await choices({ q: 'stranger' })).body).not.toContain('Stranger relay')
    expect((await choices({ component: 'r3', part })).body).not.toContain('Stranger relay')
    expect((await send({ verb: 'swapped', component: 'r3', part })).statusCode).toBe(422)
    expect((await book.get('/vehicles/nothing/entries/part-choices')).statusCode).toBe(404)
  })
  test('a very long search, a repeated one and signs of all sorts are answered', async () => {
    for (const q of ['x'.repeat(5000), '%_\\', '40 '.repeat(200), '\u0000', '”“', '1e999'])
      expect((await choices({ q })).statusCode, q.slice(0, 10)).toBe(200)
    expect((await book.get(`${V}/entries/part-choices?q=a&q=b`)).statusCode).toBe(200)
  })
  test('without scripts the button beside the search narrows, and all that was typed stays', async () => {
    const before = counts()
    const reply = await send({ verb: 'swapped', component: 'r3', q: 'micro', text: 'Half a sentence', odometer: '12', do: 'narrow' })
    expect(reply.statusCode).toBe(200)
    expect(faultsOf(reply.body)).toEqual([])
    const offered = tagsOf(insideOf(reply.body, 'part-choices')).filter((tag) => tag.name === 'input')
    expect(offered.map((tag) => tag.attributes.get('value'))).toEqual([micro])
    expect(reply.body).toContain('>Half a sentence</textarea>')
    expect(control(reply.body, 'odometer')?.attributes.get('value')).toBe('12')
    expect(counts()).toEqual(before)
  })
})

describe('the form as it is opened', () => {
  const chosen = (body: string, select: string) => /<option value="([^"]*)" selected/.exec(insideOf(body, select))?.[1] ?? ''
  test('where one came from is filled in: the component and what was done', async () => {
    const { body } = await book.get(`${V}/entries/new?component=r3&verb=removed`)
    expect([chosen(body, 'component'), chosen(body, 'verb'), control(body, 'on')?.attributes.get('value')]).toEqual([
      'r3',
      'removed',
      '2026-11-25',
    ])
    // The part of the relay is a relay: relays are what is offered.
    expect(insideOf((await book.get(`${V}/entries/new?component=r3`)).body, 'part-choices')).toContain('make relay')
  })
  test('components worked on lately stand first, apart from the rest, and every component stands once', async () => {
    await saved({ verb: 'serviced', component: 'fuel-pump', text: 'Listened to.', on: '2026-11-25' })
    const inside = insideOf((await book.get(`${V}/entries/new`)).body, 'component')
    const [, lately = '', others = '', wires = ''] = inside.split('<optgroup')
    expect(lately).toContain('label="Worked on lately"')
    expect(/<option value="([^"]+)"/.exec(lately)?.[1]).toBe('fuel-pump')
    expect(others).toContain('label="All others, by name"')
    expect(wires).toMatch(/label="Wires".*value="feed-horn"/)
    const keys = [...inside.matchAll(/<option value="([^"]+)"/g)].map((found) => found[1])
    expect(new Set(keys).size).toBe(keys.length)
    expect([...lately.matchAll(/<option/g)].length).toBeLessThanOrEqual(6)
  })
  test('the pages of a branch, a finding, something due and the household’s vehicles lead to it, filled in', async () => {
    const { findings } = reportOn(book.db, book.actor, book.vehicles[0] as string).report
    const { rule, component: key } = findings[0] as { rule: string; component: string }
    for (const [from, to] of [
      [`${V}/components/r3`, `${V}/entries/new?component=r3`],
      [`${V}/findings/${rule}/${key}`, `${V}/entries/new?component=${key}`],
      [`${V}/due/grounds-2027`, `${V}/entries/new?verb=serviced`],
      ['/', `${V}/entries/new`],
    ] as const) {
      const href = new RegExp(`href="(${to.replaceAll('?', '\\?')}[^"]*)"`).exec((await book.get(from)).body)?.[1]
      expect(href, from).toBeDefined()
      expect((await book.get((href as string).replaceAll('&amp;', '&'))).statusCode, from).toBe(200)
    }
  })
  test('a vehicle with nothing in it begins with something fitted', async () => {
    const made = await book.post('/vehicles', { name: 'Fern', systemVoltage_V: '12' })
    expect(chosen((await book.get(`${made.headers.location}/entries/new`)).body, 'verb')).toBe('fitted')
  })
  test('a field that comes twice is refused, not guessed', async () => {
    const reply = await book.app.inject({
      ...{ method: 'POST', url: `${V}/entries` },
      headers: { cookie: await cookieOf(), 'content-type': 'application/x-www-form-urlencoded' },
      payload: `${new URLSearchParams({ _token: await tokenOf(), ...log({ text: 'a' }) })}&text=b&cost=1&cost=2`,
    })
    expect(reply.statusCode).toBe(422)
    expect(textOf(insideOf(reply.body, 'faults'))).toMatch(/Cost : This came twice.*In words : This came twice/)
  })
})

describe('photos sent ahead are put to the entry as it is saved', () => {
  const photo = (vehicleId: string, actor = book.actor) => {
    const id = randomUUID()
    book.db.$client
      .prepare(
        "INSERT INTO photos (id, household_id, vehicle_id, sha256, type, bytes, file_name, caption, recorded_at, recorded_by) VALUES (?, ?, ?, ?, 'image/jpeg', 9, 'a.jpg', '', 'x', ?)",
      )
      .run(id, actor.householdId, vehicleId, 'a'.repeat(64), actor.personId)
    return id
  }
  const entryOfPhoto = (id: string) => book.db.$client.prepare('SELECT entry_place_id FROM photos WHERE id = ?').pluck().get(id)
  const post = async (photos: readonly string[], fields: Record<string, string> = {}) =>
    book.app.inject({
      ...{ method: 'POST', url: `${V}/entries` },
      headers: { cookie: await cookieOf(), 'content-type': 'application/x-www-form-urlencoded' },
      payload: `${new URLSearchParams({ _token: await tokenOf(), ...log(fields) })}${photos.map((one) => `&photos=${one}`).join('')}`,
    })

  test('one, and several; the same form again changes nothing', async () => {
    const vehicle = book.vehicles[0] as string
    const [one, two, three] = [photo(vehicle), photo(vehicle), photo(vehicle)]
    const single = (await post([one])).headers.location as string
    expect(`/entries/${entryOfPhoto(one)}`).toBe(single)
    const once = randomUUID()
    const several = (await post([two, three], { once })).headers.location as string
    expect([entryOfPhoto(two), entryOfPhoto(three)].map((id) => `/entries/${id}`)).toEqual([several, several])
    expect((await post([two, three], { once })).headers.location).toBe(several)
  })
  test('one that belongs to another entry, vehicle or household, or is none: nothing at all is saved', async () => {
    const vehicle = book.vehicles[0] as string
    const free = photo(vehicle)
    const taken = photo(vehicle)
    await post([taken])
    const before = counts()
    for (const wrong of [taken, photo(book.vehicles[1] as string), photo(vehicle, household(book.db, book.clock, 'Q')), randomUUID(), 'x'])
      expect((await post([free, wrong])).statusCode).toBe(422)
    expect(counts()).toEqual(before)
    expect(entryOfPhoto(free)).toBeNull()
  })
  test('a refused form still holds them', async () => {
    const free = photo(book.vehicles[0] as string)
    const reply = await post([free], { on: '2026-02-30' })
    expect(reply.statusCode).toBe(422)
    expect(insideOf(reply.body, 'photos-sent')).toContain(`name="photos" value="${free}"`)
  })
  test('without scripts the form says honestly how photos are added', async () => {
    expect(insideOf((await book.get(`${V}/entries/new`)).body, 'photos')).toContain('Save first; photos are added on the entry’s page.')
  })
})

test('the old part goes to the shelf only where that is said', async () => {
  const inPlace = (await saved({ verb: 'swapped', component: 'r3', part: micro, fate: 'bin' })) && micro
  const before = stockOf(book.db, book.actor, inPlace).inStock
  const other = value(createPart(book.db, book.clock, book.actor, { kind: 'relay', name: 'Other relay', ratings: { make_A: 70 } })).id
  await saved({ verb: 'swapped', component: 'r3', part: other, fate: 'shelf' })
  expect(stockOf(book.db, book.actor, inPlace).inStock).toBe(before + 1)
})

async function tokenOf(): Promise<string> {
  return /name="_token" value="([^"]+)"/.exec((await book.get('/')).body)?.[1] as string
}
async function cookieOf(): Promise<string> {
  return book.cookie
}
