import { expect, it } from 'vitest'
import { keepMissingDigests, wrongRows } from '../../server/records/digests.ts'
import { append } from '../../server/records/journal.ts'
import { countStock } from '../../server/records/stock.ts'
import { fit, openBook, rowCounts, value } from './book.ts'

function written() {
  const book = openBook()
  value(countStock(book.db, book.clock, book.actor, book.part.fuse30, 4, 'Bin 2'))
  value(append(book.db, book.clock, book.actor, book.entry('2026-01-05', [fit('f1', book.part.fuse30), fit('f2', book.part.fuse5)])))
  return book
}
const covered = ['entries', 'parts', 'part_revisions', 'stock_counts', 'stock_moves']

it('every append-only row has its digest once it is written, and none is wrong (R6)', () => {
  const { db } = written()
  const counts = rowCounts(db)
  expect(counts.digests).toBe(covered.reduce((sum, table) => sum + (counts[table] as number), 0))
  expect(counts.stock_moves).toBe(2)
  expect(wrongRows(db.$client)).toEqual([])
})

it.each([
  ['entries', 'title', 'entries'],
  ['changes', 'payload', 'entries'],
  ['parts', 'kind', 'parts'],
  ['part_revisions', 'notes', 'part_revisions'],
  ['stock_counts', 'place', 'stock_counts'],
  ['stock_moves', 'by_count', 'stock_moves'],
])('a value changed in %s (%s) is named, and so is a row that is gone (R6)', (table, column, named) => {
  const { db } = written()
  const { id, entry } = db.$client
    .prepare(`SELECT id, ${table === 'changes' ? 'entry_id' : 'id'} AS entry FROM ${table} LIMIT 1`)
    .get() as { id: string; entry: string }
  for (const kind of ['update', 'delete']) db.$client.exec(`DROP TRIGGER IF EXISTS ${table}_no_${kind}`)
  const other = column === 'by_count' ? '7' : column === 'payload' ? `'{"other":1}'` : "'other'"
  db.$client.prepare(`UPDATE ${table} SET ${column} = ${other} WHERE id = ?`).run(id)
  expect(wrongRows(db.$client)).toEqual([{ table: named, id: entry, fault: 'altered' }])
  db.$client.pragma('foreign_keys = OFF')
  db.$client.prepare(`DELETE FROM ${table} WHERE id = ?`).run(id)
  expect(wrongRows(db.$client)).toEqual([{ table: named, id: entry, fault: table === 'changes' ? 'altered' : 'missing' }])
})

it('digests that are missing are made, only those, and a wrong one is not made right', () => {
  const { db } = written()
  const all = rowCounts(db).digests as number
  db.$client.exec("DROP TRIGGER digests_no_delete; DROP TRIGGER parts_no_update; DELETE FROM digests WHERE table_name = 'entries'")
  db.$client.exec("UPDATE parts SET kind = 'hose' WHERE kind = 'relay'")
  expect(
    wrongRows(db.$client)
      .map((row) => row.fault)
      .sort(),
  ).toEqual(['altered', 'without digest'])
  expect(keepMissingDigests(db)).toBe(1)
  expect(rowCounts(db).digests).toBe(all)
  expect(wrongRows(db.$client).map((row) => row.fault)).toEqual(['altered'])
})
