import { expect, it } from 'vitest'
import type { Change } from '../../server/records/contract.ts'
import { decisionsAboutComponent, decisionsAboutPart } from '../../server/records/decisions.ts'
import { append, withdraw } from '../../server/records/journal.ts'
import { fit, household, openBook, value } from './book.ts'

it('decisions are found by the part chosen, by a part passed over, and by their component, as long as they stand', () => {
  const book = openBook()
  const { fuse30, fuse5, relay, lamp } = book.part
  const add = (on: string, changes: readonly Change[]) => value(append(book.db, book.clock, book.actor, book.entry(on, changes)))
  add('2024-01-01', [fit('f1', fuse30)])
  add('2024-02-01', [
    {
      kind: 'decided',
      component: 'f1',
      chosen: fuse30,
      considered: [
        { part: fuse5, whyNot: 'too small' },
        { words: 'a breaker', whyNot: 'dear' },
      ],
      why: 'It fits.',
    },
  ])
  const second = add('2024-03-01', [{ kind: 'decided', chosen: fuse5, considered: [], why: 'For the radio.' }])
  expect(decisionsAboutPart(book.db, book.actor, fuse30)).toMatchObject([
    {
      on: '2024-02-01',
      vehicleName: 'Bramble',
      componentName: 'F1',
      chosen: { name: '30 A fuse' },
      considered: [
        { name: '5 A fuse', partId: fuse5, whyNot: 'too small' },
        { name: 'a breaker', partId: null, whyNot: 'dear' },
      ],
      why: 'It fits.',
    },
  ])
  expect(decisionsAboutPart(book.db, book.actor, fuse5).map((one) => one.why)).toEqual(['For the radio.', 'It fits.'])
  expect(decisionsAboutPart(book.db, book.actor, relay)).toEqual([])
  expect(decisionsAboutPart(book.db, book.actor, lamp)).toEqual([])
  expect(decisionsAboutComponent(book.db, book.actor, { vehicleId: book.vehicleId, component: 'f1' }).map((one) => one.why)).toEqual([
    'It fits.',
  ])
  value(withdraw(book.db, book.clock, book.actor, second.id))
  expect(decisionsAboutPart(book.db, book.actor, fuse5).map((one) => one.why)).toEqual(['It fits.'])
  expect(decisionsAboutPart(book.db, household(book.db, book.clock, 'Stranger'), fuse30)).toEqual([])
})
