import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { keptJournals, keptOutlines, mostJournalRows, mostOutlineRows } from '../../server/records/entry-rows.ts'
import { generateHousehold, type HouseholdSize } from '../../server/records/generated/household.ts'
import { append } from '../../server/records/journal.ts'
import { keptPast, mostPast_kB } from '../../server/records/past-reports.ts'
import { keptHeads, mostHeadLetters } from '../../server/records/projection.ts'
import { type Book, openBook } from './book.ts'
import { faultsOf } from './markup.ts'

type Asked = { statements: number; rows: number }
type Large = { readonly book: Book; readonly vehicles: readonly string[]; readonly asked: Asked }

/** A household whose every statement, and every row it answers, is counted. */
async function counted(size: HouseholdSize): Promise<Large> {
  const book = await openBook({ demo: false })
  const vehicles = generateHousehold(book.db, book.clock, book.actor, size)
  const asked: Asked = { statements: 0, rows: 0 }
  const client = book.db.$client
  const prepare = client.prepare.bind(client) as unknown as (sql: string) => Record<string, unknown>
  const counting = (statement: Record<string, unknown>): unknown =>
    new Proxy(statement, {
      get(target, name) {
        const method = target[name as string]
        if (typeof method !== 'function') return method
        return (...given: unknown[]) => {
          const answer = method.apply(target, given)
          if (answer === target) return counting(target)
          if (['get', 'all', 'run'].includes(name as string)) {
            asked.statements++
            asked.rows += Array.isArray(answer) ? answer.length : answer === undefined ? 0 : 1
          }
          return name === 'raw' || name === 'pluck' ? counting(answer) : answer
        }
      },
    })
  Object.assign(client, { prepare: (sql: string) => counting(prepare(sql)) })
  return { book, vehicles, asked }
}

let times = 0
async function costOf({ book, asked }: Large, url: string): Promise<Asked> {
  expect((await book.get(url)).statusCode, url).toBe(200)
  const before = { ...asked }
  // By another address, so that a page just made is not sent once more.
  const reply = await book.get(`${url}${url.includes('?') ? '&' : '?'}asked=${times++}`)
  expect(faultsOf(reply.body)).toEqual([])
  return { statements: asked.statements - before.statements, rows: asked.rows - before.rows }
}

let short: Large
let long: Large
let wide: Large
beforeAll(async () => {
  const size = { vehicles: 10, entriesPerVehicle: 60, parts: 140, photosPerVehicle: 5 }
  short = await counted(size)
  long = await counted({ ...size, entriesPerVehicle: 200 })
  wide = await counted({ ...size, vehicles: 30, parts: 700 })
})
afterAll(() => Promise.all([short, long, wide].map((one) => one.book.close())))

describe('a page asks for what it shows: neither more entries, more vehicles nor more parts make it ask more', () => {
  const pages: readonly (readonly [string, (of: Large) => string])[] = [
    ['vehicles', () => '/'],
    ['vehicle', (of) => `/vehicles/${of.vehicles[3]}`],
    ['journal', (of) => `/vehicles/${of.vehicles[3]}/journal`],
    ['components', (of) => `/vehicles/${of.vehicles[3]}/components`],
    ['findings', (of) => `/vehicles/${of.vehicles[3]}/findings`],
  ]
  test.each(pages)('%s: with 600 entries and with 2,000', async (_, url) => {
    const [few, many] = [await costOf(short, url(short)), await costOf(long, url(long))]
    expect(few.statements).toBeGreaterThan(2)
    expect(many).toEqual(few)
  })

  test.each(pages.slice(1))('%s: with 10 vehicles and with 30', async (_, url) => {
    expect(await costOf(wide, url(wide))).toEqual(await costOf(short, url(short)))
  })

  test('vehicles: 24 to a page, in as many statements as 10', async () => {
    const [ten, thirty] = [await costOf(short, '/'), await costOf(wide, '/')]
    expect(thirty.statements).toBe(ten.statements)
    // for each vehicle shown its id and its facts
    expect(thirty.rows - ten.rows).toBe(2 * (24 - 10))
    const second = await wide.book.get('/?page=2')
    expect(second.body.match(/<section aria-labelledby="v-/g)?.length).toBe(6)
    expect(second.body).toContain('30 vehicles, page 2 of 2')
  })

  test('shelf: fifty rows and their figures, however many parts', async () => {
    const [few, many] = [await costOf(short, '/shelf'), await costOf(wide, '/shelf')]
    expect(many.statements).toBe(few.statements)
  })

  test('search: as many statements, and never more rows than are ranked', async () => {
    for (const q of ['relay', 'green film', 'F3', 'zzzz']) {
      const many = await costOf(long, `/search?q=${encodeURIComponent(q)}`)
      expect(many.statements, q).toBeLessThanOrEqual(12)
      expect(many.rows, q).toBeLessThan(3 * 1001 + 100)
    }
  })
})

test('a page of the journal by its number is the same stretch of the whole', async () => {
  const url = `/vehicles/${long.vehicles[0]}/journal`
  const titles = async (page: number) =>
    [...(await long.book.get(`${url}?page=${page}`)).body.matchAll(/href="\/entries\/([0-9a-f-]{36})"/g)].map((one) => one[1])
  const pages = [await titles(1), await titles(2), await titles(3), await titles(4)]
  // 200 rows, of which two are withdrawals and are not listed
  expect(pages.map((page) => page.length)).toEqual([50, 50, 50, 48])
  expect(new Set(pages.flat()).size).toBe(198)
})

test('what is kept in memory stays within its bounds after every vehicle was opened and saved to', async () => {
  for (const vehicleId of wide.vehicles) {
    const saved = append(wide.book.db, wide.book.clock, wide.book.actor, {
      vehicleId,
      effectiveOn: '2026-01-01',
      title: 'Seen',
      changes: [{ kind: 'noted', text: 'Seen.' }],
    })
    expect(saved.ok).toBe(true)
    expect((await wide.book.get(`/vehicles/${vehicleId}?on=2020-03-01`)).statusCode).toBe(200)
    expect((await wide.book.get(`/vehicles/${vehicleId}`)).statusCode).toBe(200)
  }
  expect(keptJournals(wide.book.db).size).toBeGreaterThan(0)
  expect(keptJournals(wide.book.db).weight).toBeLessThanOrEqual(mostJournalRows)
  expect(keptOutlines(wide.book.db).size).toBeGreaterThan(0)
  expect(keptOutlines(wide.book.db).weight).toBeLessThanOrEqual(mostOutlineRows)
  expect(keptHeads(wide.book.db).size).toBeGreaterThan(0)
  expect(keptHeads(wide.book.db).weight).toBeLessThanOrEqual(mostHeadLetters)
  expect(keptPast(wide.book.db).size).toBeGreaterThan(0)
  expect(keptPast(wide.book.db).weight).toBeLessThanOrEqual(mostPast_kB)
})
