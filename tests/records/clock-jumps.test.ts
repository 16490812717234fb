import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { describe, expect, it, vi } from 'vitest'
import type { Clock } from '../../server/records/clock.ts'
import { openDatabase } from '../../server/records/database.ts'
import { newId } from '../../server/records/ids.ts'
import { append, entriesOf } from '../../server/records/journal.ts'
import { createOwner, signIn } from '../../server/records/people.ts'
import { sessionOf } from '../../server/records/sessions.ts'
import { stateOn } from '../../server/records/state.ts'
import { fit, openBook, rowCounts, value } from './book.ts'

function movable(instant: string): Clock & { set(instant: string): void } {
  let now = new Date(instant)
  return {
    now: () => now,
    set: (next) => {
      now = new Date(next)
    },
  }
}
const JUMPS = ['2026-11-25T12:00:00Z', '1970-01-01T00:00:00Z', '2026-11-25T13:00:00Z', '2026-11-25T11:00:00Z', '2026-11-25T12:00:01Z']

describe('R20: a clock that jumps', () => {
  it('ids go on ascending', () => {
    const clock = movable(JUMPS[0] as string)
    const ids = JUMPS.flatMap((instant) => {
      clock.set(instant)
      return Array.from({ length: 5000 }, () => newId(clock))
    })
    expect(ids).toEqual([...ids].sort())
    expect(new Set(ids).size).toBe(ids.length)
  })

  it('ids go on ascending after a start on a clock put back to 1970', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'loombook-clock-'))
    const file = join(folder, 'loombook.db')
    const book = openBook(file)
    const saved = value(append(book.db, book.clock, book.actor, book.entry('2024-01-01', [fit('f1', book.part.fuse5)])))
    book.db.$client.close()
    // As if the program were started anew: nothing is remembered but what the file holds.
    vi.resetModules()
    const [{ openDatabase: openAgain }, { newId: nextId }] = await Promise.all([
      import('../../server/records/database.ts'),
      import('../../server/records/ids.ts'),
    ])
    const early = movable('1970-01-01T00:00:00Z')
    expect(nextId(early).startsWith('00000000-0')).toBe(true)
    const db = openAgain(file)
    const ids = Array.from({ length: 10_000 }, () => nextId(early))
    expect(ids).toEqual([...ids].sort())
    const highest = ['entries', 'changes', 'parts', 'part_revisions', 'vehicles', 'stock_moves'].map((table) =>
      String(db.$client.prepare(`SELECT coalesce(max(id), '') FROM ${table}`).pluck().get()),
    )
    expect(highest.filter((id) => id >= (ids[0] as string))).toEqual([])
    expect(saved.id < (ids[0] as string)).toBe(true)
    db.$client.close()
    rmSync(folder, { recursive: true })
  })

  it('entries of one day stand in the order they were saved, whatever the clock said', () => {
    const book = openBook()
    const clock = movable('2026-06-01T12:00:00Z')
    const titles = ['first', 'second', 'third']
    const instants = ['2026-06-01T12:00:00Z', '2026-06-01T11:00:00Z', '2026-06-01T13:00:00Z']
    for (const [n, title] of titles.entries()) {
      clock.set(instants[n] as string)
      value(
        append(
          book.db,
          clock,
          book.actor,
          book.entry('2026-05-01', n === 0 ? [fit('f1', book.part.fuse5)] : [{ kind: 'renamed', component: 'f1', name: title }], { title }),
        ),
      )
    }
    expect(entriesOf(book.db, book.actor, book.vehicleId).map((entry) => entry.title)).toEqual(['third', 'second', 'first'])
    expect(stateOn(book.db, book.actor, book.vehicleId).components.get('f1')?.name).toBe('third')
  })

  it('in 1970 a day of today is refused in words, and nothing is stored', () => {
    const book = openBook()
    const rows = rowCounts(book.db)
    expect(append(book.db, movable('1970-01-01T00:00:00Z'), book.actor, book.entry('2026-05-01', []))).toMatchObject({
      ok: false,
      refusals: [{ code: 'date-in-future', field: 'effectiveOn' }],
    })
    expect(rowCounts(book.db)).toEqual(rows)
  })
})

describe('R20: sessions on a clock that jumps', () => {
  async function signedIn(instant: string) {
    const db = openDatabase(':memory:')
    const clock = movable(instant)
    value(createOwner(db, clock, { name: 'Robin', password: 'a long enough word' }))
    const signed = value(await signIn(db, clock, { name: 'Robin', password: 'a long enough word' }))
    if (signed.state !== 'in') throw new Error('not signed in')
    const { token } = signed
    const isIn = (at: string) => {
      clock.set(at)
      return sessionOf(db, clock, token) !== null
    }
    return isIn
  }

  it('an hour forward or back ends none, and ninety days end it', async () => {
    const isIn = await signedIn('2026-11-25T12:00:00Z')
    expect(isIn('2026-11-25T11:00:00Z')).toBe(true)
    expect(isIn('2026-11-25T13:00:00Z')).toBe(true)
    // Unused for thirty days it would be over before that.
    for (const day of ['2026-12-20', '2027-01-15', '2027-02-10']) expect(isIn(`${day}T12:00:00Z`)).toBe(true)
    // 90 days after 25 November are 23 February.
    expect(isIn('2027-02-23T11:59:59Z')).toBe(true)
    expect(isIn('2027-02-23T12:00:00Z')).toBe(false)
  })

  it('begun on a clock years ahead, it does not last until then', async () => {
    const isIn = await signedIn('2099-01-01T00:00:00Z')
    expect(isIn('2099-01-02T00:00:00Z')).toBe(true)
    expect(isIn('2026-11-25T12:00:00Z')).toBe(false)
  })

  it('with the clock at 1970 it does not count, and is there again once the clock is right', async () => {
    const isIn = await signedIn('2026-11-25T12:00:00Z')
    expect(isIn('1970-01-01T00:00:00Z')).toBe(false)
    expect(isIn('2026-11-26T12:00:00Z')).toBe(true)
  })

  it('begun in 1970, it ends by the right clock', async () => {
    const isIn = await signedIn('1970-01-01T00:00:00Z')
    expect(isIn('1970-01-01T01:00:00Z')).toBe(true)
    expect(isIn('2026-11-25T12:00:00Z')).toBe(false)
  })
})
