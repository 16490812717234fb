/** Lists that a large household would make long stay short: parts offered in wiring forms, columns of costs, parts a decision chooses from. */
import { afterAll, beforeAll, expect, test } from 'vitest'
import { append } from '../../server/records/journal.ts'
import { createPart } from '../../server/records/parts.ts'
import { countStock } from '../../server/records/stock.ts'
import { createVehicle } from '../../server/records/vehicles.ts'
import { type Book, openBook } from './book.ts'
import { faultsOf, textOf } from './markup.ts'

let book: Book
let V = ''
let last = ''
let stocked = ''
const FUSES = 120

beforeAll(async () => {
  book = await openBook()
  V = `/vehicles/${book.vehicles[0]}`
  const ids = Array.from({ length: FUSES }, (_, n) => {
    const made = createPart(book.db, book.clock, book.actor, { kind: 'fuse', name: `Zeta fuse ${n}`, ratings: { rated_A: 5 + n } })
    if (!made.ok) throw new Error('no part')
    return made.value.id
  })
  last = ids.at(-1) as string
  stocked = ids.at(-2) as string
  const counted = countStock(book.db, book.clock, book.actor, stocked, 3, 'box 3')
  if (!counted.ok) throw new Error(counted.refusals[0]?.sentence)
})
afterAll(() => book.close())

/** Values of the options of a select, without the blank one. */
const options = (body: string, id: string, label = '') => {
  const whole = new RegExp(`<select id="${id}".*?</select>`, 's').exec(body)?.[0] ?? ''
  const inside = label === '' ? whole : (new RegExp(`<optgroup label="${label}">(.*?)</optgroup>`, 's').exec(whole)?.[1] ?? '')
  return [...inside.matchAll(/<option value="([^"]+)"/g)].map((found) => found[1])
}

test('a row of a chain offers fifty parts of its kind, those in stock and the one picked among them, and says so', async () => {
  const fields = { from: 'block:4', rows: '1', 'type-0': 'fuse', 'part-0': last, do: 'add-row' }
  const { body } = await book.post(`${V}/chains`, fields)
  expect(faultsOf(body)).toEqual([])
  const offered = options(body, 'part-0')
  expect(offered).toHaveLength(50)
  expect(offered[0]).toBe(last)
  expect(offered).toContain(stocked)
  expect(textOf(body)).toMatch(/50 of 1\d\d are offered, those in stock first/)
})

test('so does what is put in line; where there are few, all are offered and nothing is said', async () => {
  const { body } = await book.get(`${V}/components/main-lead/insert?type=fuse&part=${last}`)
  const offered = options(body, 'part', 'Fuse')
  expect(offered).toHaveLength(50)
  expect(offered).toEqual(expect.arrayContaining([last, stocked]))
  expect(textOf(body)).toMatch(/50 of 1\d\d are offered/)
  const few = (await book.get(`${V}/components/main-lead/insert?type=relay`)).body
  expect(textOf(few)).not.toContain('are offered')
})

test('costs of many vehicles stand twelve to a page, and the sums on each page are over all of them', async () => {
  for (let n = 0; n < 14; n += 1) {
    const made = createVehicle(book.db, book.clock, book.actor, { name: `Cost ${n}`, systemVoltage_V: 12 })
    if (!made.ok) throw new Error('no vehicle')
    const work = {
      vehicleId: made.value.id,
      effectiveOn: '2019-05-01',
      title: 'Work',
      cost_minor: 100,
      changes: [{ kind: 'noted', text: 'Work' }] as const,
    }
    const saved = append(book.db, book.clock, book.actor, work)
    if (!saved.ok) throw new Error(saved.refusals[0]?.sentence)
  }
  const [first, second] = [(await book.get('/costs')).body, (await book.get('/costs?page=2')).body]
  const columns = (body: string) => [...body.matchAll(/<th scope="col" class="n">(.*?)<\/th>/g)].map((found) => found[1] as string)
  const vehicles = (body: string) => columns(body).slice(0, columns(body).indexOf('All vehicles'))
  expect(vehicles(first)).toHaveLength(12)
  expect(new Set([...vehicles(first), ...vehicles(second)]).size).toBe(vehicles(first).length + vehicles(second).length)
  expect([...vehicles(first), ...vehicles(second)]).toEqual(expect.arrayContaining(Array.from({ length: 14 }, (_, n) => `Cost ${n}`)))
  // 14 entries of 1.00 in that year, which no other vehicle has a cost in.
  const sum2019 = (body: string) => /<tr><th scope="row">2019<\/th>.*?data-label="All vehicles"><strong>([^<]*)</s.exec(body)?.[1]
  expect([sum2019(first), sum2019(second)]).toEqual(['14.00', '14.00'])
  expect(first).toContain('href="/costs?page=2"')
  expect(vehicles((await book.get('/costs?page=999')).body)).toEqual(vehicles(second))
})

test('a decision offers fifty parts and, beside them, every one that was considered', async () => {
  const { body } = await book.get(`/decisions/new?vehicle=${book.vehicles[0]}&part=${last}&part=${stocked}`)
  const offered = options(body, 'chosen')
  expect(offered.length).toBeGreaterThanOrEqual(50)
  expect(offered.length).toBeLessThanOrEqual(52)
  expect(offered).toEqual(expect.arrayContaining([last, stocked]))
})
