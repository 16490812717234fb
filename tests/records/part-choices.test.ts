import { expect, test } from 'vitest'
import { newId } from '../../server/records/ids.ts'
import { append, correct } from '../../server/records/journal.ts'
import { partChoices } from '../../server/records/part-choices.ts'
import { createPart, revisePart } from '../../server/records/parts.ts'
import { recordPurchase } from '../../server/records/purchases.ts'
import { countStock, stockOf } from '../../server/records/stock.ts'
import { fit, household, openBook, value } from './book.ts'

const ask = (more: object = {}) => ({ words: '', kind: '', picked: '', limit: 20, ...more })
const names = (book: ReturnType<typeof openBook>, more: object) =>
  partChoices(book.db, book.actor, ask(more)).found.map((part) => part.name)

test('parts of the wanted kind come first, of these those in stock, then by name', () => {
  const book = openBook()
  value(countStock(book.db, book.clock, book.actor, book.part.fuse5, 2, 'box 3'))
  value(countStock(book.db, book.clock, book.actor, book.part.lamp, 1, 'attic'))
  expect(names(book, { kind: 'fuse', words: 'e' })).toEqual(['5 A fuse', '30 A fuse', '2.5 mm² wire', '40 A relay'])
  expect(names(book, { kind: 'fuse', words: 'l' })).toEqual(['Lamp', '40 A relay', 'Block'])
  expect(names(book, { kind: 'fuse' })).toEqual(['5 A fuse', '30 A fuse'])
  const [first] = partChoices(book.db, book.actor, ask({ kind: 'fuse' })).found
  expect(first).toMatchObject({ id: book.part.fuse5, kind: 'fuse', inStock: 2, place: 'box 3', ratings: { rated_A: 5 } })
})

test('every word is looked for in the name, the place and, as a figure, among the ratings', () => {
  const book = openBook()
  value(countStock(book.db, book.clock, book.actor, book.part.block, 1, 'Box 3'))
  value(createPart(book.db, book.clock, book.actor, { kind: 'relay', name: 'Change-over', ratings: { make_A: 40, break_A: 30 } }))
  expect(names(book, { words: 'box 3' })).toEqual(['Block'])
  expect(names(book, { words: '40a' })).toEqual(['40 A relay', 'Change-over'])
  expect(names(book, { words: '2,5' })).toEqual(['2.5 mm² wire'])
  expect(names(book, { words: 'FUSE 30' })).toEqual(['30 A fuse'])
  expect(names(book, { words: '%' })).toEqual([])
  expect(names(book, { words: "' OR 1=1 --" })).toEqual([])
})

test('with neither word nor kind only what is in stock is offered; what was picked always is, and first', () => {
  const book = openBook()
  expect(names(book, {})).toEqual([])
  value(countStock(book.db, book.clock, book.actor, book.part.lamp, 1))
  expect(names(book, {})).toEqual(['Lamp'])
  expect(names(book, { picked: book.part.wire })).toEqual(['2.5 mm² wire', 'Lamp'])
  expect(names(book, { words: 'relay', picked: book.part.wire })).toEqual(['2.5 mm² wire', '40 A relay'])
})

test('a part is found by its latest name only, and the list is cut off and says so', () => {
  const book = openBook()
  value(revisePart(book.db, book.clock, book.actor, book.part.relay, { name: 'Horn relay', ratings: { make_A: 40 } }))
  expect(names(book, { words: 'horn' })).toEqual(['Horn relay'])
  expect(names(book, { words: '40 A' })).toEqual(['Horn relay'])
  const few = partChoices(book.db, book.actor, ask({ kind: 'fuse', limit: 1 }))
  expect([few.found.length, few.more]).toEqual([1, true])
  expect(partChoices(book.db, book.actor, ask({ kind: 'fuse', limit: 2 })).more).toBe(false)
})

test('stock is what the shelf itself says it is, whatever was taken, put back, counted and withdrawn', () => {
  const book = openBook()
  const { fuse30, fuse5 } = book.part
  const check = () => {
    for (const part of [fuse30, fuse5]) {
      const found = partChoices(book.db, book.actor, ask({ picked: part, words: 'nothing of that name' })).found[0]
      expect(found?.inStock).toBe(stockOf(book.db, book.actor, part).inStock)
    }
  }
  value(append(book.db, book.clock, book.actor, book.entry('2026-01-01', [fit('f1', fuse30)])))
  check()
  value(
    append(book.db, book.clock, book.actor, book.entry('2026-01-02', [{ kind: 'swapped', component: 'f1', part: fuse5, fate: 'shelf' }])),
  )
  check()
  // Taken from an empty shelf it stays at none; put back since, there is one.
  expect(stockOf(book.db, book.actor, fuse30).inStock).toBe(1)
  expect(names(book, {})).toEqual(['30 A fuse'])
  value(countStock(book.db, book.clock, book.actor, fuse5, 3))
  value(
    append(book.db, book.clock, book.actor, book.entry('2026-01-03', [{ kind: 'swapped', component: 'f1', part: fuse30, fate: 'shelf' }])),
  )
  check()
  expect(stockOf(book.db, book.actor, fuse5).inStock).toBe(4)
  // Four there were and six were bought; one was taken before all were counted as nine, and a word mended in that entry takes no other.
  value(recordPurchase(book.db, book.clock, book.actor, { partId: fuse5, boughtOn: '2026-01-04', count: 6 }))
  check()
  expect(stockOf(book.db, book.actor, fuse5).inStock).toBe(10)
  const taken = book.entry('2026-01-05', [fit('f2', fuse5)])
  const { id } = value(append(book.db, book.clock, book.actor, taken))
  value(countStock(book.db, book.clock, book.actor, fuse5, 9))
  value(correct(book.db, book.clock, book.actor, id, { ...taken, text: 'In the spare way' }))
  check()
  expect(stockOf(book.db, book.actor, fuse5).inStock).toBe(9)
})

test('the parts of another household are never offered, not even as the one picked', () => {
  const book = openBook()
  const other = household(book.db, book.clock, 'Other')
  const secret = value(createPart(book.db, book.clock, other, { kind: 'fuse', name: 'Secret fuse', ratings: { rated_A: 5 } })).id
  value(countStock(book.db, book.clock, other, secret, 9, 'box 3'))
  for (const more of [{ words: 'secret' }, { picked: secret }, { kind: 'fuse' }, {}, { words: 'box' }])
    expect(names(book, more)).not.toContain('Secret fuse')
  expect(partChoices(book.db, other, ask({ words: 'secret' })).found.length).toBe(1)
})

test('a shelf of 20,000 parts is still narrowed while one types', () => {
  const book = openBook()
  const { db, clock, actor } = book
  const part = db.$client.prepare('INSERT INTO parts (id, household_id, kind, recorded_at, recorded_by) VALUES (?, ?, ?, ?, ?)')
  const revision = db.$client.prepare(
    "INSERT INTO part_revisions (id, household_id, part_id, name, v, ratings, evidence, notes, recorded_at, recorded_by) VALUES (?, ?, ?, ?, 1, ?, '{}', '', 'x', ?)",
  )
  db.$client.transaction(() => {
    for (let n = 0; n < 20_000; n++) {
      const id = newId(clock)
      part.run(id, actor.householdId, n % 5 === 0 ? 'fuse' : 'relay', 'x', actor.personId)
      revision.run(newId(clock), actor.householdId, id, `Piece ${n}`, JSON.stringify({ rated_A: n % 200 }), actor.personId)
    }
  })()
  for (const words of ['', 'piece', '40', 'nothing of that name']) {
    const from = performance.now()
    const { found } = partChoices(db, actor, ask({ words, kind: 'fuse', limit: 8 }))
    // Some 20 to 70 ms on a small machine; far more would be felt between two letters.
    expect(performance.now() - from, words).toBeLessThan(500)
    expect(found.length, words).toBe(words.startsWith('nothing') ? 0 : 8)
  }
})
