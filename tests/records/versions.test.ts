import { describe, expect, it } from 'vitest'
import { fixedClock } from '../../server/records/clock.ts'
import { append, correct, correctionsOf, entriesOf, entryOf, withdraw } from '../../server/records/journal.ts'
import { journalList } from '../../server/records/journal-list.ts'
import { stateOn } from '../../server/records/state.ts'
import { countStock, stockOf } from '../../server/records/stock.ts'
import { aboutEntry, lastSaveOf, latestVersionOf, undoCorrection, versionsOf } from '../../server/records/versions.ts'
import { fit, openBook, rowCounts, value } from './book.ts'

function corrected() {
  const book = openBook()
  const { db, clock, actor, vehicleId, part } = book
  const first = value(
    append(db, clock, actor, book.entry('2024-01-01', [fit('f1', part.fuse5)], { title: 'Five', text: 'A', odometer_km: 10 })),
  )
  const second = value(
    correct(db, clock, actor, first.id, book.entry('2024-01-02', [fit('f1', part.fuse30)], { title: 'Thirty', cost_minor: 250 })),
  )
  const held = () => stateOn(db, actor, vehicleId).components.get('f1')?.part
  return { book, first, second, held }
}

describe('the versions of an entry', () => {
  it('are the same, oldest first, whichever is asked for', () => {
    const { book, first, second } = corrected()
    for (const id of [first.id, second.id]) expect(versionsOf(book.db, book.actor, id).map((one) => one.id)).toEqual([first.id, second.id])
    const listed = journalList(book.db, book.actor, book.vehicleId, { range: () => ({ from: 0, most: 9 }) }).entries
    expect(listed.filter((one) => one.corrected).map((one) => one.id)).toEqual([second.id])
    expect(latestVersionOf(book.db, book.actor, first.id)).toMatchObject({ entry: { id: second.id }, isWithdrawn: false })
    expect(versionsOf(book.db, { ...book.actor, householdId: 'another' }, first.id)).toEqual([])
  })
})

describe('undoing a correction', () => {
  it('brings the earlier version back, whole; undoing that brings the correction back', () => {
    const { book, first, second, held } = corrected()
    const { db, clock, actor } = book
    const third = value(undoCorrection(db, clock, actor, second.id))
    expect(third).toMatchObject({
      effectiveOn: '2024-01-01',
      title: 'Five',
      text: 'A',
      odometer_km: 10,
      cost_minor: null,
      changes: first.changes,
    })
    expect(held()).toBe(book.part.fuse5)
    const fourth = value(undoCorrection(db, clock, actor, third.id))
    expect(fourth).toMatchObject({
      effectiveOn: '2024-01-02',
      title: 'Thirty',
      text: '',
      odometer_km: null,
      cost_minor: 250,
      changes: second.changes,
    })
    expect(held()).toBe(book.part.fuse30)
    // Nothing left the history, and one entry stands.
    expect(versionsOf(db, actor, first.id).map((one) => one.id)).toEqual([first.id, second.id, third.id, fourth.id])
    expect(entriesOf(db, actor, book.vehicleId)).toHaveLength(1)
    expect(entryOf(db, actor, first.id)).toMatchObject({ title: 'Five', text: 'A' })
  })

  it('R17: pressed five times makes one version and answers the same', () => {
    const { book, second } = corrected()
    const once = value(undoCorrection(book.db, book.clock, book.actor, second.id))
    const rows = rowCounts(book.db)
    for (let n = 0; n < 4; n++) expect(value(undoCorrection(book.db, book.clock, book.actor, second.id)).id).toBe(once.id)
    expect(rowCounts(book.db)).toEqual(rows)
  })

  it('takes nothing from a shelf that was counted since the entry was first recorded', () => {
    const book = openBook()
    const { db, clock, actor, part } = book
    value(countStock(db, clock, actor, part.fuse5, 5))
    const entry = value(append(db, clock, actor, book.entry('2024-01-01', [fit('f1', part.fuse5)])))
    expect(stockOf(db, actor, part.fuse5).inStock).toBe(4)
    value(countStock(db, clock, actor, part.fuse5, 9))
    const better = value(correct(db, clock, actor, entry.id, book.entry('2024-01-01', [fit('f1', part.fuse5)], { title: 'Better' })))
    expect(stockOf(db, actor, part.fuse5).inStock).toBe(9)
    value(undoCorrection(db, clock, actor, better.id))
    expect(stockOf(db, actor, part.fuse5).inStock).toBe(9)
    value(append(db, clock, actor, book.entry('2023-01-01', [fit('f2', part.fuse5)])))
    expect(stockOf(db, actor, part.fuse5).inStock).toBe(8)
  })

  it('is refused where there is no earlier version, and where another took its place', () => {
    const { book, first, second } = corrected()
    const { db, clock, actor } = book
    expect(undoCorrection(db, clock, actor, first.id)).toMatchObject({ ok: false, refusals: [{ code: 'not-valid' }] })
    expect(undoCorrection(db, clock, actor, 'ghost')).toMatchObject({ ok: false, refusals: [{ code: 'not-found' }] })
    value(correct(db, clock, actor, second.id, book.entry('2024-01-03', [fit('f1', book.part.fuse5)])))
    expect(undoCorrection(db, clock, actor, second.id)).toMatchObject({ ok: false, refusals: [{ code: 'already-corrected' }] })
  })
})

describe('the last save', () => {
  it('is undone, redone and undone again', () => {
    const book = openBook()
    const { db, clock, actor, vehicleId } = book
    expect(lastSaveOf(db, clock, actor, vehicleId)).toBeNull()
    value(append(db, clock, actor, book.entry('2024-05-01', [fit('f1', book.part.fuse5)])))
    const saved = value(append(db, clock, actor, book.entry('2024-01-01', [fit('f2', book.part.fuse5)])))
    const last = () => lastSaveOf(db, clock, actor, vehicleId)
    // Saved last, though dated earlier.
    expect(last()).toMatchObject({ entryId: saved.id, undo: 'withdraw' })
    value(withdraw(db, clock, actor, saved.id))
    expect(last()).toMatchObject({ entryId: saved.id, undo: 'bring-back' })
    value(withdraw(db, clock, actor, correctionsOf(db, actor, saved.id)?.withdrawnBy as string))
    expect(last()).toMatchObject({ entryId: saved.id, undo: 'withdraw' })
    const better = value(correct(db, clock, actor, saved.id, book.entry('2024-01-02', [fit('f2', book.part.fuse30)])))
    expect(last()).toMatchObject({ entryId: better.id, undo: 'earlier-version' })
    const back = value(undoCorrection(db, clock, actor, better.id))
    expect(last()).toMatchObject({ entryId: back.id, undo: 'earlier-version' })
  })

  it('is this person’s, and of the last day', () => {
    const { book, second } = corrected()
    const { db, actor, vehicleId } = book
    const at = (instant: string) => lastSaveOf(db, fixedClock(instant), actor, vehicleId)?.entryId ?? null
    expect(lastSaveOf(db, book.clock, { ...actor, personId: 'another' }, vehicleId)).toBeNull()
    expect(at('2026-06-02T11:59:59Z')).toBe(second.id)
    expect(at('2026-06-02T12:00:00Z')).toBeNull()
    // R20: an hour back is no matter, years are.
    expect(at('2026-06-01T11:00:00Z')).toBe(second.id)
    expect(at('1970-01-01T00:00:00Z')).toBeNull()
  })

  it('a withdrawal, and one of that, are about the entry itself', () => {
    const { book, second } = corrected()
    value(withdraw(book.db, book.clock, book.actor, second.id))
    const undo = correctionsOf(book.db, book.actor, second.id)?.withdrawnBy as string
    expect(aboutEntry(book.db, book.actor, undo)).toBe(second.id)
    expect(aboutEntry(book.db, book.actor, second.id)).toBe(second.id)
  })
})
