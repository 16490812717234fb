import { describe, expect, it } from 'vitest'
import type { Change } from '../../../server/records/contract.ts'
import { append, entriesAbout } from '../../../server/records/journal.ts'
import { stateOn } from '../../../server/records/state.ts'
import { type Book, fit, openBook, value } from '../book.ts'

const add = (book: Book, on: string, changes: readonly Change[]) => append(book.db, book.clock, book.actor, book.entry(on, changes))

describe('a decision', () => {
  it('changes nothing of the vehicle, names what it was chosen over, and is found with its component', () => {
    const book = openBook()
    value(add(book, '2024-01-01', [fit('f1', book.part.fuse30)]))
    const before = stateOn(book.db, book.actor, book.vehicleId)
    const entry = value(
      add(book, '2024-02-01', [
        {
          kind: 'decided',
          component: 'f1',
          chosen: book.part.fuse30,
          considered: [
            { part: book.part.fuse5, whyNot: 'too small' },
            { words: 'a breaker', whyNot: '' },
          ],
          why: 'It carries the lamp with room to spare.',
        },
      ]),
    )
    expect(entry.sentences).toEqual(['Chose 30 A fuse for F1, over 5 A fuse, a breaker: It carries the lamp with room to spare.'])
    expect([...stateOn(book.db, book.actor, book.vehicleId).components]).toEqual([...before.components])
    expect(entriesAbout(book.db, book.actor, book.vehicleId, 'f1').map((one) => one.id)).toContain(entry.id)
  })

  it.each<[string, (book: Book) => Change, string]>([
    ['of a part that is not known', () => ({ kind: 'decided', chosen: 'ghost', considered: [], why: 'x' }), 'does-not-apply'],
    ['over a part that is not known', () => ({ kind: 'decided', considered: [{ part: 'ghost', whyNot: '' }], why: 'x' }), 'does-not-apply'],
    ['for a component that is not there', () => ({ kind: 'decided', component: 'f9', considered: [], why: 'x' }), 'does-not-apply'],
    ['without a reason', (book) => ({ kind: 'decided', chosen: book.part.relay, considered: [], why: ' ' }), 'not-valid'],
  ])('%s is refused', (_, change, code) => {
    const book = openBook()
    expect(add(book, '2024-02-01', [change(book)])).toMatchObject({ ok: false, refusals: [{ code }] })
  })
})
