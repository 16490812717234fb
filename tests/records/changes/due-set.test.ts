import { describe, expect, it } from 'vitest'
import type { Change, NewEntry } from '../../../server/records/contract.ts'
import { append, entryOf, withdraw } from '../../../server/records/journal.ts'
import { stateOn } from '../../../server/records/state.ts'
import { type Book, fit, openBook, rowCounts, value } from '../book.ts'

const add = (book: Book, on: string, changes: readonly Change[], more: Partial<NewEntry> = {}) =>
  append(book.db, book.clock, book.actor, book.entry(on, changes, more))
const dueOf = (book: Book, key: string, on?: string) => stateOn(book.db, book.actor, book.vehicleId, on).due.get(key)
const grounds: Change = { kind: 'due-set', key: 'grounds', what: 'Look at the grounds', on: '2025-03-08', every_months: 12 }
const lugs: Change = { kind: 'due-set', key: 'lugs', what: 'Retorque the lugs', odometer_km: 200_000, every_km: 10_000 }

describe('what is due', () => {
  it('once done, is gone; before that day it still stands', () => {
    const book = openBook()
    value(add(book, '2024-03-01', [{ kind: 'due-set', key: 'a', what: 'Look', on: '2024-06-01' }]))
    value(add(book, '2024-05-20', [{ kind: 'due-done', key: 'a' }]))
    expect(dueOf(book, 'a')).toBeUndefined()
    expect(dueOf(book, 'a', '2024-05-19')).toMatchObject({ on: '2024-06-01' })
  })

  it('that comes round by date, is next due so long after the day it was done, not after the day it was due', () => {
    const book = openBook()
    value(add(book, '2024-03-08', [grounds]))
    const done = value(add(book, '2025-04-30', [{ kind: 'due-done', key: 'grounds' }]))
    expect(dueOf(book, 'grounds')).toEqual({
      key: 'grounds',
      what: 'Look at the grounds',
      on: '2026-04-30',
      every_months: 12,
      entryId: done.id,
    })
    expect(dueOf(book, 'grounds', '2025-04-29')).toMatchObject({ on: '2025-03-08' })
  })

  it('that comes round by distance, is next due so far after the reading it was done at', () => {
    const book = openBook()
    value(add(book, '2024-03-08', [lugs]))
    value(add(book, '2025-04-30', [{ kind: 'due-done', key: 'lugs' }], { odometer_km: 201_250 }))
    expect(dueOf(book, 'lugs')).toMatchObject({ odometer_km: 211_250, every_km: 10_000 })
    expect(dueOf(book, 'lugs')).not.toHaveProperty('on')
  })

  it('that comes round by distance, is not done without a reading: the next would be a guess', () => {
    const book = openBook()
    value(add(book, '2024-03-08', [lugs]))
    const before = rowCounts(book.db)
    const answer = add(book, '2025-04-30', [{ kind: 'due-done', key: 'lugs' }])
    expect(answer).toMatchObject({ ok: false, refusals: [{ code: 'does-not-apply', field: 'changes.0' }] })
    expect(answer.ok ? '' : answer.refusals[0]?.sentence).toMatch(/odometer reading/)
    expect(rowCounts(book.db)).toEqual(before)
  })

  it('stands again when its doing is withdrawn', () => {
    const book = openBook()
    value(add(book, '2024-03-08', [grounds]))
    const done = value(add(book, '2025-03-08', [{ kind: 'due-done', key: 'grounds' }]))
    value(withdraw(book.db, book.clock, book.actor, done.id))
    expect(dueOf(book, 'grounds')).toMatchObject({ on: '2025-03-08' })
  })

  it('may be changed by saying it again, and dropped for good though it comes round', () => {
    const book = openBook()
    value(add(book, '2024-03-08', [grounds]))
    value(add(book, '2024-04-01', [{ ...grounds, on: '2025-06-01', every_months: 6 } as Change]))
    expect(dueOf(book, 'grounds')).toMatchObject({ on: '2025-06-01', every_months: 6 })
    const dropped = value(add(book, '2024-05-01', [{ kind: 'due-dropped', key: 'grounds' }]))
    expect(dueOf(book, 'grounds')).toBeUndefined()
    expect(entryOf(book.db, book.actor, dropped.id)?.sentences).toEqual(['Taken off what is due (grounds).'])
    expect(add(book, '2024-05-02', [{ kind: 'due-dropped', key: 'grounds' }])).toMatchObject({
      ok: false,
      refusals: [{ code: 'does-not-apply' }],
    })
  })

  it('reads as one sentence, with when it comes round', () => {
    const book = openBook()
    value(add(book, '2024-01-01', [fit('f1', book.part.fuse30)]))
    const entry = value(
      add(book, '2024-03-08', [
        { kind: 'due-set', key: 'a', component: 'f1', what: 'Look', on: '2024-06-01', odometer_km: 500, every_months: 1, every_km: 500 },
        grounds,
      ]),
    )
    expect(entry.sentences).toEqual([
      'Set to look at again: Look (1 June 2024 or 500 km, then every month or 500 km).',
      'Set to look at again: Look at the grounds (8 March 2025, then every 12 months).',
    ])
  })

  it.each([
    ['half a month', { every_months: 0.5 }],
    ['every none', { every_km: 0 }],
    ['a thousand months', { every_months: 1000 }],
    ['only how often, not when', { on: undefined, every_months: 12 }],
  ])('%s is refused', (_, wrong) => {
    const book = openBook()
    const before = rowCounts(book.db)
    const change = JSON.parse(JSON.stringify({ ...grounds, ...wrong })) as Change
    expect(add(book, '2024-03-08', [change])).toMatchObject({ ok: false, refusals: [{ code: 'not-valid' }] })
    expect(rowCounts(book.db)).toEqual(before)
  })
})
