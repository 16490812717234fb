import { describe, expect, it } from 'vitest'
import { type Clock, fixedClock } from '../../server/records/clock.ts'
import type { Actor } from '../../server/records/contract.ts'
import type { Db } from '../../server/records/database.ts'
import { newId } from '../../server/records/ids.ts'
import { append, correct, correctionsOf, withdraw } from '../../server/records/journal.ts'
import { photos } from '../../server/records/schema.ts'
import { restorePhoto, trashOf } from '../../server/records/trash.ts'
import { createVehicle } from '../../server/records/vehicles.ts'
import { fit, household, openBook, value } from './book.ts'

function photo(book: ReturnType<typeof openBook>, trashedAt: string | null, caption = '', actor = book.actor): string {
  const id = newId(book.clock)
  book.db
    .insert(photos)
    .values({
      ...{ id, householdId: actor.householdId, vehicleId: null, sha256: 'a'.repeat(64), type: 'image/jpeg', bytes: 1 },
      ...{ fileName: 'bay.jpg', caption, trashedAt, recordedAt: '2026-05-01T00:00:00.000Z', recordedBy: actor.personId },
    })
    .run()
  return id
}

const all = () => ({ from: 0, most: 100 })
const trash = (...[db, clock, actor]: [Db, Clock, Actor]) => trashOf(db, clock, actor, { entries: all, photos: all })

describe('withdrawn entries', () => {
  it('of all vehicles stand in it, latest first, with who and when, until they are brought back', () => {
    const book = openBook()
    const { db, actor } = book
    const other = value(createVehicle(db, book.clock, actor, { name: 'Wren', systemVoltage_V: 12 })).id
    const one = value(append(db, book.clock, actor, book.entry('2024-01-01', [fit('f1', book.part.fuse5)], { title: 'One' })))
    const two = value(append(db, book.clock, actor, { ...book.entry('2024-02-01', []), vehicleId: other, title: 'Two' }))
    value(withdraw(db, fixedClock('2026-06-02T08:00:00Z'), actor, one.id))
    value(withdraw(db, fixedClock('2026-06-03T08:00:00Z'), actor, two.id))
    expect(trash(db, book.clock, actor).entries).toMatchObject([
      { id: two.id, vehicleName: 'Wren', title: 'Two', withdrawnAt: '2026-06-03T08:00:00.000Z', withdrawnBy: 'Robin' },
      { id: one.id, vehicleName: 'Bramble', title: 'One', effectiveOn: '2024-01-01', withdrawnAt: '2026-06-02T08:00:00.000Z' },
    ])
    value(withdraw(db, book.clock, actor, correctionsOf(db, actor, two.id)?.withdrawnBy as string))
    expect(trash(db, book.clock, actor).entries.map((entry) => entry.id)).toEqual([one.id])
  })

  it('an earlier version is no trash, a withdrawn correction is', () => {
    const book = openBook()
    const { db, clock, actor } = book
    const first = value(append(db, clock, actor, book.entry('2024-01-01', [])))
    const second = value(correct(db, clock, actor, first.id, book.entry('2024-01-02', [])))
    expect(trash(db, clock, actor).entries).toEqual([])
    value(withdraw(db, clock, actor, second.id))
    expect(trash(db, clock, actor).entries.map((entry) => entry.id)).toEqual([second.id])
  })
})

describe('a stretch of the trash', () => {
  it('holds the rows asked for and counts all; one brought back and withdrawn again stands once, as of then', () => {
    const book = openBook()
    const { db, clock, actor } = book
    const day = (n: number) => fixedClock(`2026-06-0${n}T08:00:00Z`)
    const ids = ['One', 'Two', 'Three', 'Four'].map((title) => value(append(db, clock, actor, book.entry('2024-01-01', [], { title }))).id)
    for (const [n, id] of ids.entries()) value(withdraw(db, day(n + 1), actor, id))
    const shown = trashOf(db, clock, actor, { entries: (count) => ({ from: count - 3, most: 2 }), photos: all })
    expect(shown).toMatchObject({ entryCount: 4, photoCount: 0, entries: [{ title: 'Three' }, { title: 'Two' }] })
    const withdrawal = correctionsOf(db, actor, ids[3] as string)?.withdrawnBy as string
    value(withdraw(db, clock, actor, withdrawal))
    expect(trash(db, clock, actor).entryCount).toBe(3)
    value(withdraw(db, day(5), actor, ids[3] as string))
    expect(trash(db, clock, actor).entries).toMatchObject([
      { title: 'Four', withdrawnAt: '2026-06-05T08:00:00.000Z' },
      { title: 'Three' },
      { title: 'Two' },
      { title: 'One' },
    ])
  })
})

describe('photos', () => {
  it('stand in it with the days that are left of thirty', () => {
    const book = openBook()
    const shown = () => trash(book.db, fixedClock('2026-06-30T12:00:00Z'), book.actor).photos
    photo(book, null)
    const [early, late] = [photo(book, '2026-05-30T12:00:00.000Z'), photo(book, '2026-06-29T12:00:00.000Z', 'The bay')]
    expect(shown()).toMatchObject([
      { id: late, words: 'The bay', left_days: 29, addedBy: 'Robin' },
      { id: early, words: 'bay.jpg', left_days: 0 },
    ])
    value(restorePhoto(book.db, book.actor, late))
    value(restorePhoto(book.db, book.actor, late))
    expect(shown().map((one) => one.id)).toEqual([early])
  })

  it('B3: another household’s are neither seen nor restored', () => {
    const book = openBook()
    const stranger = household(book.db, book.clock, 'Sasha')
    const theirs = photo(book, '2026-05-30T12:00:00.000Z', '', stranger)
    expect(trash(book.db, book.clock, book.actor).photos).toEqual([])
    expect(restorePhoto(book.db, book.actor, theirs)).toMatchObject({ ok: false, refusals: [{ code: 'not-found' }] })
    expect(trash(book.db, book.clock, stranger).photos).toHaveLength(1)
  })
})
