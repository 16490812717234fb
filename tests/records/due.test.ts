import { describe, expect, it } from 'vitest'
import type { Change, NewEntry } from '../../server/records/contract.ts'
import { dueList, estimatedDay } from '../../server/records/due.ts'
import { append } from '../../server/records/journal.ts'
import { createVehicle } from '../../server/records/vehicles.ts'
import { type Book, fit, household, openBook, value } from './book.ts'

const TODAY = '2026-06-01'
const add = (book: Book, on: string, changes: readonly Change[], more: Partial<NewEntry> = {}) =>
  value(append(book.db, book.clock, book.actor, book.entry(on, changes, more)))
const due = (key: string, when: object): Change => ({ kind: 'due-set', key, what: key, ...when }) as Change
const list = (book: Book) => dueList(book.db, book.actor, { today: TODAY })

describe('what is due', () => {
  it.each([
    ['yesterday', { on: '2026-05-31' }, 'overdue', -1, null],
    ['today', { on: '2026-06-01' }, 'soon', 0, null],
    ['in thirty days', { on: '2026-07-01' }, 'soon', 30, null],
    ['in thirty-one days', { on: '2026-07-02' }, 'later', 31, null],
    ['at the reading there is', { odometer_km: 100_000 }, 'soon', null, 0],
    ['one kilometre ago', { odometer_km: 99_999 }, 'overdue', null, -1],
    ['in 500 km', { odometer_km: 100_500 }, 'soon', null, 500],
    ['in 501 km', { odometer_km: 100_501 }, 'later', null, 501],
    ['by day or distance, the distance come first', { on: '2027-01-01', odometer_km: 99_000 }, 'overdue', 214, -1000],
    ['by day or distance, the day come first', { on: '2026-05-01', odometer_km: 190_000 }, 'overdue', -31, 90_000],
  ])('%s', (_, when, standing, left_days, left_km) => {
    const book = openBook()
    add(book, '2026-01-01', [due('a', when)], { odometer_km: 100_000 })
    expect(list(book).items).toMatchObject([{ key: 'a', standing, left_days, left_km, about: null }])
  })

  it('by distance, where no reading was ever recorded, is not called near or far', () => {
    const book = openBook()
    add(book, '2026-01-01', [due('a', { odometer_km: 5 })])
    expect(list(book).items).toMatchObject([{ standing: 'later', left_km: null, about: null }])
  })

  it('stands in one list over all vehicles: unfinished wiring, overdue, soon, later, each by its day', () => {
    const book = openBook()
    const wren = value(createVehicle(book.db, book.clock, book.actor, { name: 'Wren', systemVoltage_V: 12 })).id
    add(book, '2026-01-01', [
      fit('f1', book.part.fuse30),
      due('far', { on: '2027-01-01', component: 'f1' }),
      due('late-b', { on: '2026-05-02' }),
    ])
    add(book, '2026-01-02', [due('late-a', { on: '2026-04-01' }), due('near', { on: '2026-06-09' })], { vehicleId: wren })
    add(book, '2026-02-01', [{ kind: 'unfinished', key: 'u', components: ['f1'], text: 'Lamp moved' }])
    const { unfinished, items } = list(book)
    expect(unfinished).toMatchObject([{ key: 'u', vehicleName: 'Bramble', since: '2026-02-01', componentNames: ['F1'] }])
    expect(items.map((one) => [one.key, one.vehicleName, one.standing])).toEqual([
      ['late-a', 'Wren', 'overdue'],
      ['late-b', 'Bramble', 'overdue'],
      ['near', 'Wren', 'soon'],
      ['far', 'Bramble', 'later'],
    ])
    expect(items.at(-1)?.componentName).toBe('F1')
    expect(dueList(book.db, book.actor, { today: TODAY, vehicleId: wren }).items.map((one) => one.key)).toEqual(['late-a', 'near'])
    const stranger = household(book.db, book.clock, 'Stranger')
    expect(dueList(book.db, stranger, { today: TODAY })).toEqual({ unfinished: [], items: [] })
    expect(dueList(book.db, stranger, { today: TODAY, vehicleId: wren })).toEqual({ unfinished: [], items: [] })
  })
})

describe('about when a distance is reached', () => {
  const reading = (on: string, odometer_km: number) => ({ on, odometer_km })
  const ask = (readings: readonly ReturnType<typeof reading>[], odometer_km = 110_000) =>
    estimatedDay(readings, { odometer_km, today: TODAY })

  it('goes on as in the last year', () => {
    // 100 days for 2,000 km is 20 km a day; from 102,000 to 110,000 are 400 days on from 10 May 2026: 14 June 2027.
    expect(ask([reading('2026-01-30', 100_000), reading('2026-03-01', 100_500), reading('2026-05-10', 102_000)])).toBe('2027-06-14')
  })

  it('leaves out readings more than a year old', () => {
    expect(ask([reading('2025-05-31', 1), reading('2026-01-30', 100_000), reading('2026-05-10', 102_000)])).toBe('2027-06-14')
    expect(ask([reading('2025-05-31', 1), reading('2026-01-30', 100_000)])).toBeNull()
  })

  it.each<[string, readonly ReturnType<typeof reading>[]]>([
    ['no reading', []],
    ['one reading', [reading('2026-01-30', 100_000)]],
    ['two readings of one day', [reading('2026-01-30', 100_000), reading('2026-01-30', 100_400)]],
    ['a vehicle that stood still', [reading('2026-01-30', 100_000), reading('2026-05-10', 100_000)]],
    ['readings that fall', [reading('2026-01-30', 100_000), reading('2026-03-10', 5), reading('2026-05-10', 102_000)]],
    ['a day more than five years off', [reading('2026-01-30', 100_000), reading('2026-05-10', 100_010)]],
  ])('is not said from %s', (_, readings) => expect(ask(readings)).toBeNull())

  it('brings a thing near, but never calls it overdue', () => {
    const book = openBook()
    add(book, '2026-01-01', [], { odometer_km: 100_000 })
    add(book, '2026-04-11', [due('a', { odometer_km: 103_000 })], { odometer_km: 102_000 })
    // 20 km a day: 1,000 km are 50 days from 11 April, 31 May, which was yesterday. No reading has said so.
    expect(list(book).items).toMatchObject([{ standing: 'soon', left_km: 1000, about: '2026-05-31' }])
  })
})
