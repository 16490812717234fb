import { describe, expect, it } from 'vitest'
import type { Change, NewEntry } from '../../server/records/contract.ts'
import { inTransaction } from '../../server/records/database.ts'
import { putInspections, whereFitted } from '../../server/records/fittings.ts'
import { append, correct, entriesOf, withdraw } from '../../server/records/journal.ts'
import { refusal, refused } from '../../server/records/refusals.ts'
import { stateOn } from '../../server/records/state.ts'
import { createVehicle } from '../../server/records/vehicles.ts'
import { type Book, fit, household, openBook, rowCounts, value } from './book.ts'

const add = (book: Book, on: string, changes: readonly Change[], more: Partial<NewEntry> = {}) =>
  value(append(book.db, book.clock, book.actor, book.entry(on, changes, more)))
const where = (book: Book, part: string) =>
  whereFitted(book.db, book.actor, part).map((one) => [one.vehicleName, one.componentName, one.from, one.until, one.fate])
const secondVehicle = (book: Book) => value(createVehicle(book.db, book.clock, book.actor, { name: 'Wren', systemVoltage_V: 12 })).id

describe('where a part was fitted', () => {
  it('follows fitting, swap, removal, refitting and renaming, in every vehicle, latest first', () => {
    const book = openBook()
    const wren = secondVehicle(book)
    const { fuse30, fuse5 } = book.part
    add(book, '2022-01-01', [fit('f1', fuse30)])
    add(book, '2022-05-01', [{ kind: 'renamed', component: 'f1', name: 'Lamp fuse' }])
    add(book, '2023-01-01', [{ kind: 'swapped', component: 'f1', part: fuse30, fate: 'failed' }])
    add(book, '2023-06-01', [{ kind: 'swapped', component: 'f1', part: fuse5, fate: 'shelf' }])
    add(book, '2023-07-01', [{ kind: 'removed', component: 'f1', fate: 'bin' }])
    add(book, '2024-01-01', [fit('f1', fuse30, { name: 'Horn fuse' })])
    add(book, '2023-03-01', [fit('w1', fuse30)], { vehicleId: wren })
    expect(where(book, fuse30)).toEqual([
      ['Bramble', 'Horn fuse', '2024-01-01', null, null],
      ['Wren', 'W1', '2023-03-01', null, null],
      ['Bramble', 'Lamp fuse', '2023-01-01', '2023-06-01', 'shelf'],
      ['Bramble', 'Lamp fuse', '2022-01-01', '2023-01-01', 'failed'],
    ])
    expect(where(book, fuse5)).toEqual([['Bramble', 'Lamp fuse', '2023-06-01', '2023-07-01', 'bin']])
    expect(where(book, book.part.relay)).toEqual([])
  })

  it('holds nothing of a transaction that came to nothing, whose rows another takes', () => {
    const book = openBook()
    const { fuse30, fuse5 } = book.part
    add(book, '2022-01-01', [fit('f1', fuse30)])
    expect(where(book, fuse5)).toEqual([])
    inTransaction(book.db, () => {
      add(book, '2022-02-01', [fit('f2', fuse5)])
      expect(where(book, fuse5)).toHaveLength(1)
      return refused([refusal('not-valid', 'Not this time.')])
    })
    expect(where(book, fuse5)).toEqual([])
    const wren = secondVehicle(book)
    add(book, '2022-03-01', [fit('f9', fuse30)], { vehicleId: wren })
    expect(where(book, fuse30).map(([vehicle]) => vehicle)).toEqual(['Wren', 'Bramble'])
  })

  it('forgets what was withdrawn or corrected away, and follows the version that counts', () => {
    const book = openBook()
    const { fuse30, fuse5 } = book.part
    const first = add(book, '2022-01-01', [fit('f1', fuse30)])
    value(correct(book.db, book.clock, book.actor, first.id, book.entry('2022-02-01', [fit('f1', fuse30)])))
    const swap = add(book, '2023-01-01', [{ kind: 'swapped', component: 'f1', part: fuse5, fate: 'failed' }])
    expect(where(book, fuse5)).toEqual([['Bramble', 'F1', '2023-01-01', null, null]])
    value(withdraw(book.db, book.clock, book.actor, swap.id))
    expect(where(book, fuse30)).toEqual([['Bramble', 'F1', '2022-02-01', null, null]])
    expect(where(book, fuse5)).toEqual([])
  })

  it('names the entry that took it out', () => {
    const book = openBook()
    add(book, '2022-01-01', [fit('f1', book.part.fuse30)])
    const out = add(book, '2023-01-01', [{ kind: 'removed', component: 'f1', fate: 'failed' }])
    expect(whereFitted(book.db, book.actor, book.part.fuse30)).toMatchObject([{ fate: 'failed', endedBy: out.id }])
  })
})

describe('a look at every place that holds the part', () => {
  const setUp = () => {
    const book = openBook()
    const wren = secondVehicle(book)
    add(book, '2022-01-01', [fit('f1', book.part.fuse30), fit('f2', book.part.fuse30), fit('f3', book.part.fuse5)])
    add(book, '2022-01-01', [fit('w1', book.part.fuse30)], { vehicleId: wren })
    const ask = {
      partId: book.part.fuse30,
      places: [
        { vehicleId: book.vehicleId, component: 'f1' },
        { vehicleId: book.vehicleId, component: 'f2' },
        { vehicleId: wren, component: 'w1' },
      ],
      what: 'Look at the fuse: one has failed',
      effectiveOn: '2026-06-01',
      by: '2026-06-15',
      onceKey: 'once',
    }
    return { book, wren, ask }
  }

  it('stands in each vehicle as one ordinary entry; the same form twice makes it once', () => {
    const { book, wren, ask } = setUp()
    const first = value(putInspections(book.db, book.clock, book.actor, ask))
    const after = rowCounts(book.db)
    expect(value(putInspections(book.db, book.clock, book.actor, ask))).toEqual(first)
    expect(rowCounts(book.db)).toEqual(after)
    const due = (vehicle: string) => [...stateOn(book.db, book.actor, vehicle).due.values()].map((one) => [one.component, one.on, one.what])
    expect(due(book.vehicleId)).toEqual([
      ['f1', '2026-06-15', ask.what],
      ['f2', '2026-06-15', ask.what],
    ])
    expect(due(wren)).toEqual([['w1', '2026-06-15', ask.what]])
    expect(first.entryIds).toHaveLength(2)
    expect(entriesOf(book.db, book.actor, wren)[0]).toMatchObject({ id: first.entryIds[1], title: `To look at: ${ask.what}` })
    // Another form, later, moves the day and adds nothing.
    value(putInspections(book.db, book.clock, book.actor, { ...ask, by: '2026-07-01', onceKey: 'twice' }))
    expect(due(wren)).toEqual([['w1', '2026-07-01', ask.what]])
  })

  it.each([
    ['a place that does not hold the part', 'f3'],
    ['a place that is not there', 'f9'],
  ])('with %s, is refused in every vehicle', (_, component) => {
    const { book, wren, ask } = setUp()
    const before = rowCounts(book.db)
    const places = [
      { vehicleId: wren, component: 'w1' },
      { vehicleId: book.vehicleId, component },
    ]
    expect(putInspections(book.db, book.clock, book.actor, { ...ask, places })).toMatchObject({
      ok: false,
      refusals: [{ field: 'places' }],
    })
    expect(putInspections(book.db, book.clock, book.actor, { ...ask, places: [] })).toMatchObject({
      ok: false,
      refusals: [{ field: 'places' }],
    })
    expect(rowCounts(book.db)).toEqual(before)
  })

  it('is not for another household to ask', () => {
    const { book, ask } = setUp()
    const stranger = household(book.db, book.clock, 'Stranger')
    const before = rowCounts(book.db)
    expect(putInspections(book.db, book.clock, stranger, ask)).toMatchObject({ ok: false, refusals: [{ code: 'not-found' }] })
    expect(rowCounts(book.db)).toEqual(before)
  })
})
