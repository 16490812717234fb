import { expect, test } from 'vitest'
import { entriesOf } from '../../server/records/journal.ts'
import { thenFoundOf } from '../../server/records/then-found.ts'
import { household } from './book.ts'
import { openBook } from '../pages/book.ts'

test('what an entry made appear and cleared is what was kept with it; those of nothing are left out', async () => {
  const book = await openBook()
  let told = 0
  for (const vehicle of book.vehicles) {
    const kept = entriesOf(book.db, book.actor, vehicle).flatMap(({ id, shown }) =>
      shown && shown.appeared.length + shown.cleared.length > 0
        ? [[id, { appeared: shown.appeared, cleared: shown.cleared }] as const]
        : [],
    )
    told += kept.length
    expect(thenFoundOf(book.db, book.actor, vehicle)).toEqual(new Map(kept))
    expect(thenFoundOf(book.db, household(book.db, book.clock, 'Neighbour'), vehicle).size).toBe(0)
  }
  expect(told).toBeGreaterThan(3)
  await book.close()
})
