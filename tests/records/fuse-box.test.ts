import { describe, expect, it, vi } from 'vitest'
import { type FuseBoxRow, previewFuseBox, recordFuseBox } from '../../server/records/fuse-box.ts'
import { append, recordChain } from '../../server/records/journal.ts'
import { partsById } from '../../server/records/part-rows.ts'
import { restOf } from '../../server/records/rest.ts'
import { stateOn } from '../../server/records/state.ts'
import { type Book, fit, openBook, rowCounts, value } from './book.ts'

vi.mock('../../server/engine/rules/check.ts', async () => await import('./plain-judge.ts'))
vi.mock('../../server/engine/compare.ts', async () => await import('./plain-judge.ts'))

const row = (position: string, more: Partial<FuseBoxRow> = {}): FuseBoxRow => ({
  position,
  rating_A: 15,
  says: 'Lamps',
  crossSection_mm2: 2.5,
  reading_A: 9.1,
  ...more,
})
const walk = (book: Book, rows: readonly FuseBoxRow[], effectiveOn = '2024-02-01', groundTo: string | null = 'g2:1') =>
  recordFuseBox(book.db, book.clock, book.actor, {
    vehicleId: book.vehicleId,
    effectiveOn,
    title: 'Walked the fuse box',
    fuseBox: { box: 'box', groundTo, rows },
  })
const facts = (book: Book) => ({ state: stateOn(book.db, book.actor, book.vehicleId), parts: partsById(book.db, book.actor) })
const rest_A = (book: Book, key = 'rest-of-f3') =>
  facts(book).parts.get(facts(book).state.components.get(key)?.part ?? '')?.ratings.current_A

function boxed(): Book {
  const book = openBook()
  value(append(book.db, book.clock, book.actor, book.entry('2024-01-01', [fit('box', book.part.block), fit('g2', book.part.ground)])))
  return book
}
const named = (book: Book, current_A: number | undefined, more: object = {}) =>
  recordChain(book.db, book.clock, book.actor, {
    vehicleId: book.vehicleId,
    effectiveOn: '2024-03-01',
    title: 'Named a lamp',
    chain: {
      from: 'f3-wire:b',
      rows: [
        {
          type: 'load',
          name: 'Lamp',
          part: {
            new: { kind: 'load', name: 'Lamp found', ratings: { behaviour: 'current', ...(current_A === undefined ? {} : { current_A }) } },
          },
        },
      ],
      return: { to: 'g2:2' },
      control: null,
      ...more,
    },
  })

describe('walking the fuse box', () => {
  it('makes a fuse, a wire and a load that stands for the rest, joined, with the reading kept', () => {
    const book = boxed()
    const saved = value(walk(book, [row('F3'), row('F4', { rating_A: null, says: '', crossSection_mm2: null, reading_A: null })]))
    const { state, parts } = facts(book)
    const held = (key: string) => parts.get(state.components.get(key)?.part ?? '')
    expect(state.components.get('f3')).toMatchObject({ name: 'F3 Lamps', position: 'F3' })
    expect(held('f3')).toMatchObject({ ratings: { rated_A: 15 }, evidence: { rated_A: 'marked' } })
    expect(held('f3-wire')).toMatchObject({ ratings: { crossSection_mm2: 2.5 } })
    expect(held('rest-of-f3')).toMatchObject({
      name: 'Rest of F3, 9.1 A',
      ratings: { current_A: 9.1 },
      evidence: { current_A: 'measured' },
    })
    expect([held('f4')?.ratings, held('f4-wire')?.ratings, held('rest-of-f4')?.ratings]).toEqual([{}, {}, { behaviour: 'current' }])
    expect([...state.joins.keys()].filter((key) => key.includes('f3'))).toHaveLength(4)
    expect(saved.sentences).toContain('Measured 9.1 A at F3 Lamps.')
    expect(value(walk(book, [row('F9')], '2024-02-02', null)).changes.filter((change) => change.kind === 'joined')).toHaveLength(3)
  })

  it('uses one part for fuses of one rating', () => {
    const book = boxed()
    const before = rowCounts(book.db).parts ?? 0
    value(walk(book, [row('F1'), row('F2', { reading_A: 2 })]))
    // one fuse and two rests are new; the wire is not: the shelf has the same 2.5 mm² already
    expect((rowCounts(book.db).parts ?? 0) - before).toBeGreaterThanOrEqual(3)
    expect((rowCounts(book.db).parts ?? 0) - before).toBeLessThanOrEqual(4)
    const { state } = facts(book)
    expect(state.components.get('f1')?.part).toBe(state.components.get('f2')?.part)
  })

  const wrong: [string, FuseBoxRow, string][] = [
    ['no position', row(' '), 'rows.0.position'],
    ['a rating of nothing', row('F3', { rating_A: 0 }), 'rows.0.rating_A'],
    ['a negative size', row('F3', { crossSection_mm2: -1 }), 'rows.0.crossSection_mm2'],
    ['a negative reading', row('F3', { reading_A: -1 }), 'rows.0.reading_A'],
    ['a name in use', row('Box'), 'rows.0.position'],
  ]
  it.each(wrong)('%s is refused, its field named, and nothing is stored', (_name, bad, field) => {
    const book = boxed()
    const before = rowCounts(book.db)
    const answer = walk(book, [bad, row('F8')])
    expect(answer.ok ? [] : answer.refusals.map((refusal) => refusal.field)).toEqual([field])
    expect(rowCounts(book.db)).toEqual(before)
  })

  it('a position entered twice is refused', () => {
    expect(walk(boxed(), [row('F3'), row('f3')])).toMatchObject({ ok: false, refusals: [{ field: 'rows.1.position' }] })
  })
})

describe('the rest', () => {
  // By hand: 9.1 A read, a lamp of 3 A named, 9.1 − 3 = 6.1 A is left; then 6.1 A more leaves none.
  it('gives way to a load that was part of the reading', () => {
    const book = boxed()
    value(walk(book, [row('F3')]))
    expect(restOf(facts(book).state, facts(book).parts, 'f3-wire:b')).toEqual({ fuse: 'f3', rest: 'rest-of-f3', rest_A: 9.1 })
    value(named(book, 3, { inRest: true }))
    expect(rest_A(book)).toBe(6.1)
    value(named(book, 6.1, { inRest: true }))
    expect(rest_A(book)).toBe(0)
  })

  it('stays where the load is new, and where its current is not known', () => {
    const book = boxed()
    value(walk(book, [row('F3')]))
    value(named(book, 3))
    value(named(book, undefined, { inRest: true }))
    expect(rest_A(book)).toBe(9.1)
  })

  it('cannot fall below nothing', () => {
    const book = boxed()
    value(walk(book, [row('F3')]))
    const before = rowCounts(book.db)
    const answer = named(book, 9.2, { inRest: true })
    expect(answer).toMatchObject({ ok: false, refusals: [{ code: 'rest-too-small' }] })
    expect(answer.ok ? '' : answer.refusals[0]?.sentence).toBe(
      'Only 9.1 A behind F3 Lamps is not named yet, and this takes 9.2 A. Read the current again, or say that the load is new.',
    )
    expect(rowCounts(book.db)).toEqual(before)
  })

  it('is not sought where nothing was read', () => {
    const book = boxed()
    value(walk(book, [row('F3')]))
    expect(restOf(facts(book).state, facts(book).parts, 'box:1')).toBeNull()
    expect(restOf(facts(book).state, facts(book).parts, 'g2:1')).toBeNull()
    expect(named(book, 1, { from: 'box:1', inRest: true })).toMatchObject({ ok: false, refusals: [{ field: 'inRest' }] })
  })

  // By hand: 12 A read anew, 3 A of it named, 9 A is left.
  it('is made anew by a new reading, less the loads known by then', () => {
    const book = boxed()
    value(walk(book, [row('F3')]))
    value(named(book, 3, { inRest: true }))
    value(walk(book, [row('F3', { reading_A: 12 })], '2024-04-01'))
    expect(rest_A(book)).toBe(9)
    expect(walk(book, [row('F3', { reading_A: 2 })], '2024-05-01')).toMatchObject({ ok: false, refusals: [{ field: 'rows.0.reading_A' }] })
    expect(walk(book, [row('F3', { rating_A: 20 })], '2024-05-01')).toMatchObject({ ok: false, refusals: [{ field: 'rows.0.rating_A' }] })
  })

  it('is tried without storing anything', () => {
    const book = boxed()
    const before = rowCounts(book.db)
    const given = {
      vehicleId: book.vehicleId,
      effectiveOn: '2024-02-01',
      title: 'Tried',
      fuseBox: { box: 'box', groundTo: null, rows: [row('F3', { rating_A: 5 })] },
    }
    expect(value(previewFuseBox(book.db, book.actor, given)).after.findings).toMatchObject([{ component: 'f3', verdict: 'over' }])
    expect(rowCounts(book.db)).toEqual(before)
  })
})
