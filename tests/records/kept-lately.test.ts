/** What is kept in memory of journals, states, sentences and parts, against the same rows read by somebody who has kept nothing. */
import { drizzle } from 'drizzle-orm/better-sqlite3'
import fc from 'fast-check'
import { expect, test, vi } from 'vitest'
import type { Change } from '../../server/records/contract.ts'
import { type Db, inTransaction } from '../../server/records/database.ts'
import { journalOf, kindsOfParts, liveEntries } from '../../server/records/entry-rows.ts'
import { append, correct, withdraw } from '../../server/records/journal.ts'
import { lifeOf } from '../../server/records/life.ts'
import { partsById } from '../../server/records/part-rows.ts'
import { revisePart } from '../../server/records/parts.ts'
import { reportOn } from '../../server/records/projection.ts'
import { refusal, refused } from '../../server/records/refusals.ts'
import * as schema from '../../server/records/schema.ts'
import { mendSearch } from '../../server/records/search-rows.ts'
import { tellSome, toldEntries } from '../../server/records/sentences.ts'
import { emptyState, fold, type State, stateOn } from '../../server/records/state.ts'
import { type Book, fit, join, openBook, value } from './book.ts'

vi.mock('../../server/engine/rules/check.ts', async () => await import('./plain-judge.ts'))
vi.mock('../../server/engine/compare.ts', async () => await import('./plain-judge.ts'))

const DAYS = ['2024-01-01', '2024-02-01', '2024-03-01', '2024-04-01', '2024-05-01']

/** The same rows, with nothing kept. */
function anew(book: Book): Db {
  return drizzle(book.db.$client, { schema }) as Db
}

function seen(db: Db, { actor, vehicleId, part }: Book): unknown {
  const told = toldEntries(db, actor, vehicleId)
  const { document, report } = reportOn(db, actor, vehicleId)
  // What is read of a few entries says what is read of all of them, and a fold of everything comes to what a fold without words does.
  const few = tellSome(db, actor, { vehicleId, ids: told.map(({ row }) => row.id) })
  const saying = ({ row, sentences, nameOf }: (typeof told)[number]) => [row, sentences, nameOf('f1'), nameOf('l1')]
  expect(few.map(saying)).toEqual(told.map(saying))
  const start = emptyState({ name: 'Van', systemVoltage_V: 12 })
  const whole = fold(journalOf(db, actor, vehicleId).live, undefined, { start, kindOfPart: kindsOfParts(db, actor) }) as State
  const { vehicle: _its, ...wiring } = whole
  expect(stateOn(db, actor, vehicleId)).toMatchObject(wiring)
  return {
    lives: ['f1', 'l1'].map((key) => lifeOf(db, actor, vehicleId, key)),
    states: [undefined, ...DAYS].map((on) => {
      const { components, zones, joins, fittedOn, due, unfinished } = stateOn(db, actor, vehicleId, on)
      return [components, zones, joins, fittedOn, due, unfinished].map((map) => [...map])
    }),
    told: told.map(({ row, sentences, nameOf }) => [row.id, row.withdrawnBy, row.replacedBy, sentences, nameOf('f1'), nameOf('l1')]),
    parts: [part.fuse30, part.lamp].map((id) => partsById(db, actor).get(id)),
    document,
    report,
  }
}

const changesOf = (part: Book['part']): readonly (readonly Change[])[] => [
  [],
  [{ kind: 'measured', at: 'f1', quantity: 'current', value: 3 }],
  [fit('f1', part.fuse30)],
  [fit('l1', part.lamp)],
  [{ kind: 'renamed', component: 'f1', name: 'Main fuse' }],
  [{ kind: 'renamed', component: 'f1', name: 'Old fuse' }],
  [{ kind: 'swapped', component: 'f1', part: part.fuse5, fate: 'bin' }],
  [join('f1:out', 'l1:+')],
  [{ kind: 'described', zone: { key: 'bay', name: 'Bay' } }],
  [{ kind: 'removed', component: 'f1', fate: 'bin' }],
  [{ kind: 'decided', component: 'f1', considered: [{ words: 'A breaker', whyNot: 'dear' }], why: 'It is at hand' }],
  [
    { kind: 'noted', component: 'f1', text: 'Before' },
    { kind: 'renamed', component: 'f1', name: 'Pump fuse' },
    { kind: 'serviced', component: 'f1', text: 'Between' },
    { kind: 'renamed', component: 'f1', name: 'Lamp fuse' },
    { kind: 'noted', component: 'f1', text: 'After' },
  ],
]

test('whatever is added, put in between, corrected, withdrawn, revised or refused: what is kept says what the rows say', async () => {
  let [taken, refusedOnes] = [0, 0]
  const step = fc.record({
    act: fc.constantFrom('add', 'add', 'add', 'withdraw', 'correct', 'revise', 'come to nothing'),
    day: fc.nat(DAYS.length - 1),
    what: fc.nat(11),
    which: fc.nat(30),
  })
  await fc.assert(
    fc.asyncProperty(fc.array(step, { minLength: 5, maxLength: 25 }), async (steps) => {
      const book = openBook()
      const { db, clock, actor, vehicleId, part } = book
      for (const { act, day, what, which } of steps) {
        const entry = book.entry(DAYS[day] as string, changesOf(part)[what] as readonly Change[], { text: `At step ${which}` })
        const live = liveEntries(db, actor, vehicleId)
        const id = live[which % Math.max(1, live.length)]?.id ?? ''
        const rename = () =>
          revisePart(db, clock, actor, part.fuse30, { name: `Fuse ${which}`, ratings: { rated_A: which + 1 }, evidence: {}, notes: '' })
        const result =
          act === 'add'
            ? append(db, clock, actor, entry)
            : act === 'withdraw'
              ? withdraw(db, clock, actor, id)
              : act === 'correct'
                ? correct(db, clock, actor, id, entry)
                : act === 'revise'
                  ? rename()
                  : inTransaction(db, () => {
                      rename()
                      append(db, clock, actor, entry)
                      seen(db, book)
                      return refused([refusal('not-valid', 'It was only tried.')])
                    })
        if (result.ok) taken += 1
        else refusedOnes += 1
        expect(seen(db, book)).toEqual(seen(anew(book), book))
        expect(await mendSearch(anew(book))).toBe(0)
      }
    }),
    { numRuns: 20 },
  )
  expect(taken).toBeGreaterThan(50)
  expect(refusedOnes).toBeGreaterThan(10)
}, 120_000)

test('what was undone lends its name to nothing that stands', () => {
  const book = openBook()
  const { db, clock, actor, vehicleId, part } = book
  value(append(db, clock, actor, book.entry('2024-01-01', [fit('f1', part.fuse30, { name: 'Pump fuse' })])))
  const renamed = value(append(db, clock, actor, book.entry('2024-02-01', [{ kind: 'renamed', component: 'f1', name: 'Main fuse' }])))
  value(append(db, clock, actor, book.entry('2024-03-01', [{ kind: 'serviced', component: 'f1', text: 'Cleaned' }])))
  const said = () => toldEntries(db, actor, vehicleId).flatMap(({ row, sentences }) => (row.effectiveOn === '2024-03-01' ? sentences : []))
  expect(said()).toEqual([expect.stringContaining('Main fuse')])
  value(withdraw(db, clock, actor, renamed.id))
  expect(said()).toEqual([expect.stringContaining('Pump fuse')])
})
