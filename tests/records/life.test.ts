import { describe, expect, it } from 'vitest'
import { append, correct, withdraw } from '../../server/records/journal.ts'
import { lifeOf, nameOfComponent } from '../../server/records/life.ts'
import { fit, join, openBook, value } from './book.ts'

/** A fuse's life: fitted, wired, renamed, measured, swapped, made over by a load elsewhere, due, looked at, removed. */
function lived() {
  const book = openBook()
  const { part } = book
  const add = (on: string, changes: Parameters<typeof book.entry>[1], more = {}) =>
    value(append(book.db, book.clock, book.actor, book.entry(on, changes, more)))
  const battery = value(append(book.db, book.clock, book.actor, book.entry('2023-12-01', [fit('g1', part.ground)])))
  const entries = {
    battery,
    fitted: add('2024-01-01', [fit('f1', part.fuse30, { position: '3' }), fit('w1', part.wire, { length_m: 1 })]),
    wired: add('2024-01-02', [join('f1:out', 'w1:a')]),
    named: add('2024-02-01', [{ kind: 'renamed', component: 'f1', name: 'Lamp fuse' }]),
    measured: add('2024-03-01', [{ kind: 'measured', at: 'f1:out', quantity: 'voltage', value: 12.4 }]),
    other: add('2024-03-02', [{ kind: 'noted', component: 'g1', text: 'Clean.' }]),
    due: add('2024-04-01', [{ kind: 'due-set', key: 'look', component: 'f1', what: 'Look at it', on: '2024-06-01' }]),
    swapped: add('2024-05-01', [{ kind: 'swapped', component: 'f1', part: part.fuse5, fate: 'failed' }]),
    looked: add('2024-06-01', [{ kind: 'due-done', key: 'look' }]),
    removed: add('2024-07-01', [{ kind: 'removed', component: 'f1', fate: 'shelf' }]),
  }
  return { book, entries, life: () => lifeOf(book.db, book.actor, book.vehicleId, 'f1') }
}

describe('the life of a component', () => {
  it('is everything that touched it, oldest first, though it is gone', () => {
    const { entries, life } = lived()
    const { fitted, wired, named, measured, due, swapped, looked, removed } = entries
    expect(life()?.events.map((event) => event.entryId)).toEqual(
      [fitted, wired, named, measured, due, swapped, looked, removed].map((entry) => entry.id),
    )
    expect(life()).toMatchObject({ name: 'Lamp fuse', formerNames: ['F1'], isFitted: false })
    expect(life()?.fittings).toEqual([{ from: '2024-01-01', until: '2024-07-01' }])
  })

  it('says the part of each day, the fate of the old one, who wrote it and when', () => {
    const { book, life } = lived()
    const { part } = book
    expect(life()?.events.flatMap((event) => (event.part ? [event.part] : []))).toEqual([
      { was: null, now: { id: part.fuse30, name: '30 A fuse' }, fate: null },
      { was: { id: part.fuse30, name: '30 A fuse' }, now: { id: part.fuse5, name: '5 A fuse' }, fate: 'failed' },
      { was: { id: part.fuse5, name: '5 A fuse' }, now: null, fate: 'shelf' },
    ])
    const first = life()?.events[0]
    expect(first).toMatchObject({ author: 'Robin', recordedAt: '2026-06-01T12:00:00.000Z', corrected: false })
    expect(first?.details).toEqual([{ field: 'position', value: '3' }])
    expect(life()?.events[3]?.says).toEqual(['Measured 12.4 V at Lamp fuse out.'])
  })

  it('reads a corrected entry as it stands, marked, and leaves out one that is withdrawn', () => {
    const { book, entries, life } = lived()
    value(withdraw(book.db, book.clock, book.actor, entries.named.id))
    expect(life()).toMatchObject({ name: 'F1', formerNames: [] })
    const { measured } = entries
    const better = value(
      correct(
        book.db,
        book.clock,
        book.actor,
        measured.id,
        book.entry('2024-03-05', [{ kind: 'measured', at: 'f1:out', quantity: 'voltage', value: 12.1 }]),
      ),
    )
    expect(life()?.events.find((event) => event.entryId === better.id)).toMatchObject({ on: '2024-03-05', corrected: true })
    expect(life()?.events.some((event) => event.entryId === measured.id)).toBe(false)
  })

  it('is nothing for a key that was never fitted, and for another household', () => {
    const { book } = lived()
    expect(lifeOf(book.db, book.actor, book.vehicleId, 'ghost')).toBeNull()
    expect(nameOfComponent(book.db, book.actor, book.vehicleId, 'ghost')).toBeNull()
    expect(nameOfComponent(book.db, book.actor, book.vehicleId, 'f1')).toBe('Lamp fuse')
    const stranger = { ...book.actor, householdId: 'another' }
    expect(nameOfComponent(book.db, stranger, book.vehicleId, 'f1')).toBeNull()
    expect(lifeOf(book.db, stranger, book.vehicleId, 'f1')).toBeNull()
  })
})
