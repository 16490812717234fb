/** Long lists go on where they left off, whatever was recorded, corrected, renamed or taken out between two pieces. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { worstFirst } from '../../server/api/orders.ts'
import type { SavedEntry } from '../../server/records/contract.ts'
import { correct, entryOf, withdraw } from '../../server/records/journal.ts'
import { reportOn } from '../../server/records/projection.ts'
import { value } from '../records/book.ts'
import { type ApiBook, ENTRY, idsOf, openBook } from './book.ts'

type Items = { readonly items: readonly Record<string, unknown>[]; readonly next: string | null }
let book: ApiBook
let ids: Awaited<ReturnType<typeof idsOf>>
beforeAll(async () => {
  book = await openBook()
  ids = await idsOf(book)
})
afterAll(() => book.close())

const page = async (url: string): Promise<Items> => {
  const reply = await book.ask(url)
  expect(reply.statusCode, `${url} ${reply.body.slice(0, 300)}`).toBe(200)
  return reply.json() as Items
}
const restFrom = async (next: string | null): Promise<Items['items']> => {
  const seen: Record<string, unknown>[] = []
  for (let at = next; at !== null; ) {
    const got: Items = await page(at)
    seen.push(...got.items)
    at = got.next
  }
  return seen
}
const whole = async (path: string) => restFrom(`${path}${path.includes('?') ? '&' : '?'}limit=100`)
const corrected = (id: string, more: Partial<SavedEntry> = {}): SavedEntry => {
  const { vehicleId, effectiveOn, text, changes } = entryOf(book.db, book.actor, id) as SavedEntry
  return value(
    correct(book.db, book.clock, book.actor, id, { vehicleId, effectiveOn, title: 'Said anew', text, changes, ...(more as object) }),
  )
}

describe('the journal', () => {
  const V = () => `/api/vehicles/${ids.vehicle}/entries`

  test('the entry that ended a piece is corrected, twice, or withdrawn: nothing twice, nothing left out', async () => {
    const before = await whole(V())
    expect(before.length).toBeGreaterThan(5)
    for (const between of [
      (id: string) => corrected(id).id,
      (id: string) => corrected(corrected(id).id).id,
      (id: string) => value(withdraw(book.db, book.clock, book.actor, id)).id,
    ]) {
      const made = (await book.tell(V(), { ...ENTRY, effectiveOn: '2026-11-24' })).json() as { id: string }
      const first = await page(`${V()}?limit=1`)
      expect(first.items.map((one) => one.id)).toEqual([made.id])
      between(made.id)
      const seen = [...first.items, ...(await restFrom(first.next))].map((one) => one.id)
      const now = (await whole(V())).map((one) => one.id)
      expect(seen.slice(1)).toEqual(now.slice(1))
      expect(new Set(seen).size).toBe(seen.length)
    }
  })

  test('an older one that is corrected comes once, as it then stands; one of the same day recorded meanwhile shifts nothing', async () => {
    const note = (await book.tell(V(), { ...ENTRY, effectiveOn: '2023-05-10', changes: [] })).json() as { id: string }
    const first = await page(`${V()}?limit=2`)
    const all = (await whole(V())).map((one) => one.id)
    expect(all.indexOf(note.id)).toBeGreaterThan(2)
    const next = corrected(note.id).id
    await book.tell(V(), { ...ENTRY, effectiveOn: first.items[1]?.effectiveOn })
    const rest = (await restFrom(first.next)).map((one) => one.id)
    expect(rest).toEqual(all.slice(2).map((id) => (id === note.id ? next : id)))
  })

  test('a place of another vehicle is a place, and shows nothing of that vehicle', async () => {
    const { next } = await page(`${V()}?limit=1`)
    const other = `/api/vehicles/${book.vehicles[1]}/entries`
    const own = new Set((await whole(other)).map((one) => one.id))
    for (const one of await restFrom(String(next).replace(V(), other))) expect(own.has(one.id as string)).toBe(true)
  })
})

test('readings: the entry of the last one is corrected', async () => {
  const path = `/api/vehicles/${ids.vehicle}/readings`
  const measured = [18.5, 17.5, 16.5].map((amperes) => ({ kind: 'measured', at: 'r7', quantity: 'current', value: amperes }))
  const told = await book.tell(`/api/vehicles/${ids.vehicle}/entries`, { ...ENTRY, effectiveOn: '2026-11-25', changes: measured })
  expect(told.statusCode).toBe(201)
  const all = (await whole(path)).map((one) => one.value)
  const first = await page(`${path}?limit=1`)
  corrected((told.json() as { id: string }).id)
  expect([...first.items, ...(await restFrom(first.next))].map((one) => one.value)).toEqual(all)
  expect(all.slice(0, 3)).toEqual([18.5, 17.5, 16.5])
})

test('photos: the last one is put in the trash', async () => {
  const path = `/api/vehicles/${ids.vehicle}/photos`
  const { default: sharp } = await import('sharp')
  const bytes = await sharp({ create: { width: 30, height: 20, channels: 3, background: '#654' } })
    .jpeg()
    .toBuffer()
  await book.send(`/vehicles/${ids.vehicle}/photos`, { files: [{ name: 'bay.jpg', bytes }] })
  const all = (await whole(path)).map((one) => one.id)
  expect(all.length).toBe(2)
  const first = await page(`${path}?limit=1`)
  await book.post(`/photos/${all[0]}/trash`, {})
  expect((await restFrom(first.next)).map((one) => one.id)).toEqual(all.slice(1))
})

test('parts: the last one is given another name, one that holds every sign', async () => {
  const name = 'Ääh_“&=?%/ 0 V'
  for (const one of [name, name, 'Ääi']) await book.tell('/api/parts', { kind: 'fuse', name: one, ratings: {} })
  const all = (await whole('/api/parts?contains=ää')).map((one) => one.id as string)
  expect(all.length).toBe(3)
  for (const limit of [1, 2]) {
    const first = await page(`/api/parts?contains=ää&limit=${limit}`)
    const last = String(first.items.at(-1)?.id)
    const revised = await book.tell(`/api/parts/${last}/revisions`, { name: limit === 1 ? name : 'Ääa', ratings: {} })
    expect(revised.statusCode).toBe(201)
    expect([...first.items, ...(await restFrom(first.next))].map((one) => one.id)).toEqual(all)
  }
})

describe('findings', () => {
  test('their order is the one that a place is looked up by', () => {
    for (const vehicle of book.vehicles) {
      const places = reportOn(book.db, book.actor, vehicle).report.findings.map(worstFirst.placeOf)
      expect(places.length).toBeGreaterThan(20)
      for (const [n, place] of places.slice(1).entries()) expect(worstFirst.compare(places[n] as string[], place)).toBeLessThan(0)
      for (const place of places) expect(worstFirst.looksLike.exec(place.join('_'))?.slice(1)).toEqual(place)
    }
    // As the check's report says it: an infinite share first, what has no figure last.
    const places = ['over_Infinity_a_b', 'over_1.5_a_b', 'over_1.25e-7_a_b', 'over_1.25e-7_a_c', 'unknown_0_a_b', 'unknown_-1_a_b']
    const read = places.map((place) => worstFirst.looksLike.exec(place)?.slice(1) as string[])
    expect([...read].reverse().sort(worstFirst.compare)).toEqual(read)
  })

  test('the last one is cleared by an entry: the rest is what it was', async () => {
    const path = `/api/vehicles/${ids.vehicle}/findings`
    const before = await whole(path)
    const name = (one: Record<string, unknown>) => `${one.rule} ${one.component}`
    const first = await page(`${path}?limit=3`)
    const gone = String(first.items[2]?.component)
    const removed = { ...ENTRY, effectiveOn: '2026-11-25', changes: [{ kind: 'removed', component: gone, fate: 'bin' }] }
    const told = await book.tell(`/api/vehicles/${ids.vehicle}/entries`, removed)
    expect(told.statusCode, told.body.slice(0, 300)).toBe(201)
    const now = await whole(path)
    expect(now.map(name)).not.toContain(name(first.items[2] as Record<string, unknown>))
    const place = worstFirst.placeOf(before[2] as never)
    const expected = now.filter((one) => worstFirst.compare(worstFirst.placeOf(one as never), place) > 0)
    expect(expected.length).toBeGreaterThan(5)
    expect((await restFrom(first.next)).map(name)).toEqual(expected.map(name))
  })
})
