import { describe, expect, it } from 'vitest'
import type { Change, NewEntry } from '../../server/records/contract.ts'
import { dueDefaults, offersFor } from '../../server/records/due-defaults.ts'
import { append, withdraw } from '../../server/records/journal.ts'
import { partsById } from '../../server/records/part-rows.ts'
import { createPart } from '../../server/records/parts.ts'
import { stateOn } from '../../server/records/state.ts'
import { type Book, fit, openBook, value } from './book.ts'

const add = (book: Book, changes: readonly Change[], more: Partial<NewEntry> = {}) =>
  value(append(book.db, book.clock, book.actor, book.entry('2026-01-31', changes, more)))
const offers = (book: Book, entry: Parameters<typeof offersFor>[0]['entry']) =>
  offersFor({ entry, state: stateOn(book.db, book.actor, book.vehicleId), parts: partsById(book.db, book.actor) })
const make = (book: Book, kind: string, ratings: Record<string, number | string>) =>
  value(createPart(book.db, book.clock, book.actor, { kind, name: kind, ratings })).id

describe('what the trade looks at again after fitting', () => {
  it('every row says that it is common practice, for what, and why', () => {
    for (const row of dueDefaults) {
      expect(row.grade).toBe('common practice')
      expect(row.of.length).toBeGreaterThan(5)
      expect(row.why.length).toBeGreaterThan(20)
    }
  })

  it.each<[string, (book: Book) => string, readonly string[]]>([
    ['a battery', (book) => make(book, 'battery', {}), ['retorque', 'battery']],
    ['a ground point', (book) => book.part.ground, ['retorque', 'ground']],
    ['a stud block', (book) => book.part.block, ['retorque']],
    ['a hose', (book) => make(book, 'hose', {}), ['hose']],
    ['a bolted fuse', (book) => make(book, 'fuse', { form: 'SF51' }), ['retorque']],
    ['a blade fuse', (book) => make(book, 'fuse', { form: 'C' }), []],
    ['a conductor of 16 mm²', (book) => make(book, 'conductor', { crossSection_mm2: 16 }), ['retorque']],
    ['a conductor of 2.5 mm²', (book) => book.part.wire, []],
    ['a conductor of unknown size', (book) => make(book, 'conductor', {}), []],
    ['a relay', (book) => book.part.relay, []],
  ])('%s', (_, part, wanted) => {
    const book = openBook()
    const entry = add(book, [fit('x1', part(book))])
    expect(offers(book, entry).map((offer) => offer.id)).toEqual(wanted)
    expect(stateOn(book.db, book.actor, book.vehicleId).due.size).toBe(0)
  })

  it('a thin conductor whose end is said to be a ring', () => {
    const book = openBook()
    const entry = add(book, [fit('x1', book.part.wire, { fittings: { a: { terminal: 'M6 ring, crimped' } } })])
    expect(offers(book, entry).map((offer) => offer.id)).toEqual(['retorque'])
  })

  it('counts from the entry: a month and 500 km on; without a reading the day alone', () => {
    const book = openBook()
    expect(offers(book, add(book, [fit('b1', book.part.block)], { odometer_km: 1000 }))[0]?.change).toEqual({
      kind: 'due-set',
      key: 'retorque-b1',
      component: 'b1',
      what: 'Retorque the terminals of B1',
      on: '2026-02-28',
      odometer_km: 1500,
    })
    expect(offers(book, add(book, [fit('b2', book.part.block)]))[0]?.change).toEqual({
      kind: 'due-set',
      key: 'retorque-b2',
      component: 'b2',
      what: 'Retorque the terminals of B2',
      on: '2026-02-28',
    })
  })

  it('is not offered twice, nor of what has gone again, nor of an entry withdrawn', () => {
    const book = openBook()
    const entry = add(book, [fit('g1', book.part.ground)])
    const [retorque] = offers(book, entry)
    add(book, [retorque?.change as Change])
    expect(offers(book, entry).map((offer) => offer.id)).toEqual(['ground'])
    const swap = add(book, [{ kind: 'swapped', component: 'g1', part: book.part.block, fate: 'bin' }])
    expect(offers(book, swap).map((offer) => offer.id)).toEqual([])
    const gone = value(withdraw(book.db, book.clock, book.actor, swap.id))
    expect(offers(book, gone)).toEqual([])
    add(book, [
      { kind: 'due-dropped', key: 'retorque-g1' },
      { kind: 'removed', component: 'g1', fate: 'bin' },
    ])
    expect(offers(book, entry)).toEqual([])
  })
})
