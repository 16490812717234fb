import fc from 'fast-check'
import { describe, expect, it, vi } from 'vitest'
import type { Change } from '../../server/records/contract.ts'
import { documentOn } from '../../server/records/document-of.ts'
import { whereFitted } from '../../server/records/fittings.ts'
import { append, correct, correctionsOf, entriesAbout, entriesOf, entryOf, preview, withdraw } from '../../server/records/journal.ts'
import { createPart, partOf, partsOf, revisePart, unknownRatings } from '../../server/records/parts.ts'
import { recheck, reportOn } from '../../server/records/projection.ts'
import { stateOn } from '../../server/records/state.ts'
import { countStock } from '../../server/records/stock.ts'
import { createVehicle, vehicleOf, vehiclesOf } from '../../server/records/vehicles.ts'
import { type Book, fit, household, join, openBook, rowCounts, value } from './book.ts'

// The journal is tried with a judge of its own: a fuse under 10 A is over, one without a figure is unknown.
vi.mock('../../server/engine/rules/check.ts', async () => await import('./plain-judge.ts'))
vi.mock('../../server/engine/compare.ts', async () => await import('./plain-judge.ts'))

const keys = (book: Book, on?: string): string[] => [...stateOn(book.db, book.actor, book.vehicleId, on).components.keys()].sort()
const add = (book: Book, on: string, changes: readonly Change[], more = {}) =>
  append(book.db, book.clock, book.actor, book.entry(on, changes, more))

describe('state on a date', () => {
  it('ignores later entries, whatever order they were recorded in', () => {
    fc.assert(
      fc.property(fc.shuffledSubarray([1, 2, 3, 4, 5, 6, 7, 8], { minLength: 8 }), fc.integer({ min: 0, max: 9 }), (order, day) => {
        const book = openBook()
        for (const date of order) value(add(book, `2024-05-0${date}`, [fit(`f${date}`, book.part.fuse30)]))
        const wanted = [1, 2, 3, 4, 5, 6, 7, 8].filter((date) => date <= day).map((date) => `f${date}`)
        expect(keys(book, `2024-05-0${day}`)).toEqual(wanted)
      }),
      { numRuns: 15 },
    )
  })

  it('of entries that depend on each other does not depend on the order of recording', () => {
    const forward = openBook()
    value(add(forward, '2024-01-01', [fit('f1', forward.part.fuse30)]))
    value(add(forward, '2024-02-01', [{ kind: 'described', zone: { key: 'bay', name: 'Bay' } }]))
    value(add(forward, '2024-03-01', [{ kind: 'renamed', component: 'f1', name: 'Main fuse' }]))
    const mixed = openBook()
    value(add(mixed, '2024-02-01', [{ kind: 'described', zone: { key: 'bay', name: 'Bay' } }]))
    value(add(mixed, '2024-01-01', [fit('f1', mixed.part.fuse30)]))
    value(add(mixed, '2024-03-01', [{ kind: 'renamed', component: 'f1', name: 'Main fuse' }]))
    const told = (book: Book) => stateOn(book.db, book.actor, book.vehicleId)
    expect([...told(mixed).zones]).toEqual([...told(forward).zones])
    expect([...told(mixed).components.values()].map(({ part: _, ...rest }) => rest)).toEqual(
      [...told(forward).components.values()].map(({ part: _, ...rest }) => rest),
    )
    expect([...told(mixed).fittedOn]).toEqual([['f1', '2024-01-01']])
  })

  it('orders entries of one day as they were recorded', () => {
    const book = openBook()
    value(add(book, '2024-01-01', [fit('f1', book.part.fuse30)]))
    value(add(book, '2024-01-01', [{ kind: 'removed', component: 'f1', fate: 'bin' }]))
    expect(keys(book)).toEqual([])
  })
})

describe('conflicts', () => {
  const setUp = (): Book => {
    const book = openBook()
    value(
      add(book, '2024-01-01', [
        fit('r7', book.part.relay),
        fit('f1', book.part.fuse30),
        fit('l1', book.part.lamp),
        join('f1:out', 'r7:30'),
        join('r7:87', 'l1:+'),
      ]),
    )
    return book
  }
  const cases: [string, (book: Book) => Change[], RegExp][] = [
    ['a key in use', (book) => [fit('f1', book.part.fuse30)], /already a component "f1"/],
    ['an absent component', () => [{ kind: 'removed', component: 'f9', fate: 'bin' }], /no component "f9"/],
    ['an unknown part', () => [fit('f9', 'nothing')], /not known/],
    ['a join twice, the other way round', () => [join('r7:30', 'f1:out')], /already joined/],
    ['a join of a terminal to itself', () => [join('r7:30', 'r7:30')], /itself/],
    ['a terminal the part has not', () => [join('r7:99', 'f1:in')], /no terminal 99/],
    ['parting what is not joined', () => [{ kind: 'unjoined', from: 'f1:in', to: 'r7:30' }], /is not joined/],
    [
      'a swap to a part without a terminal in use',
      (book) => [{ kind: 'swapped', component: 'r7', part: book.part.fuse30, fate: 'bin' }],
      /terminal 30 of R7/,
    ],
    ['an absent zone', (book) => [fit('f9', book.part.fuse30, { zone: 'boot' })], /no zone "boot"/],
    ['finishing what is not waiting', () => [{ kind: 'finished', key: 'x' }], /waiting to be finished/],
    ['a reading at an absent place', () => [{ kind: 'measured', at: 'f9:in', quantity: 'voltage', value: 12 }], /no component "f9"/],
    ['a due item that is not there', () => [{ kind: 'due-done', key: 'x' }], /due then/],
    [
      'a condition naming an absent component',
      () => [{ kind: 'described', condition: { key: 'n', name: 'N', engine: 'off', on: ['x'] } }],
      /names "x"/,
    ],
  ]
  it.each(cases)('%s is refused and nothing is stored', (_name, changes, says) => {
    const book = setUp()
    const before = rowCounts(book.db)
    const answer = add(book, '2024-02-01', [{ kind: 'noted', text: 'first' }, ...changes(book)])
    expect(answer).toMatchObject({ ok: false, refusals: [{ code: 'does-not-apply', field: 'changes.1' }] })
    expect(answer.ok ? '' : answer.refusals[0]?.sentence).toMatch(says)
    expect(rowCounts(book.db)).toEqual(before)
  })

  it('a swap that says where each wire went moves them', () => {
    const book = setUp()
    value(
      add(book, '2024-02-01', [
        { kind: 'swapped', component: 'r7', part: book.part.fuse30, fate: 'bin', terminals: { '30': 'in', '87': 'out' } },
      ]),
    )
    expect([...stateOn(book.db, book.actor, book.vehicleId).joins.values()]).toEqual([
      { from: 'f1:out', to: 'r7:in' },
      { from: 'r7:out', to: 'l1:+' },
    ])
  })

  it('a removal takes its joins with it', () => {
    const book = setUp()
    value(add(book, '2024-02-01', [{ kind: 'removed', component: 'r7', fate: 'shelf' }]))
    expect(stateOn(book.db, book.actor, book.vehicleId).joins.size).toBe(0)
    expect(stateOn(book.db, book.actor, book.vehicleId, '2024-01-31').joins.size).toBe(2)
  })

  it('a change that a later entry cannot stand is refused and that entry named', () => {
    const book = setUp()
    const later = value(add(book, '2024-03-01', [{ kind: 'renamed', component: 'r7', name: 'Lamp relay' }], { title: 'New label' }))
    const before = rowCounts(book.db)
    const answer = add(book, '2024-02-01', [{ kind: 'removed', component: 'r7', fate: 'bin' }])
    expect(answer).toMatchObject({ ok: false, refusals: [{ code: 'later-entry-depends', entryId: later.id }] })
    expect(answer.ok ? '' : answer.refusals[0]?.sentence).toContain('"New label" of 2024-03-01')
    expect(rowCounts(book.db)).toEqual(before)
  })
})

describe('refused input', () => {
  const cases: [string, object, string][] = [
    ['no title', { title: ' ' }, 'title'],
    ['a day that does not exist', { effectiveOn: '2023-02-29' }, 'effectiveOn'],
    ['a day that has not come', { effectiveOn: '2026-06-03' }, 'effectiveOn'],
    ['a negative odometer', { odometer_km: -1 }, 'odometer_km'],
    ['half a penny', { cost_minor: 0.5 }, 'cost_minor'],
    ['an unknown kind', { changes: [{ kind: 'painted' }] }, 'changes.0.kind'],
    ['a key with capitals', { changes: [{ kind: 'removed', component: 'F1', fate: 'bin' }] }, 'changes.0.component'],
    ['an unknown fate', { changes: [{ kind: 'removed', component: 'f1', fate: 'lost' }] }, 'changes.0.fate'],
    ['a field the kind has not', { changes: [{ kind: 'noted', text: 'x', shout: true }] }, 'changes.0'],
    ['a due item with no when', { changes: [{ kind: 'due-set', key: 'a', what: 'x' }] }, 'changes.0'],
    ['a negative length', { changes: [{ kind: 'rerouted', component: 'f1', length_m: -2 }] }, 'changes.0.length_m'],
  ]
  it.each(cases)('%s names its field and keeps nothing', (_name, wrong, field) => {
    const book = openBook()
    const before = rowCounts(book.db)
    const answer = append(book.db, book.clock, book.actor, { ...book.entry('2024-01-01', []), ...wrong } as never)
    expect(answer.ok ? [] : answer.refusals.map((refusal) => refusal.field)).toEqual([field])
    expect(rowCounts(book.db)).toEqual(before)
  })
})

describe('append only', () => {
  it.each(['entries', 'changes', 'parts', 'part_revisions'])('%s can be neither changed nor deleted', (table) => {
    const book = openBook()
    value(add(book, '2024-01-01', [fit('f1', book.part.fuse30)]))
    const before = rowCounts(book.db)
    expect(() => book.db.$client.exec(`DELETE FROM ${table}`)).toThrow(/never deleted/)
    expect(() => book.db.$client.exec(`UPDATE ${table} SET household_id = household_id`)).toThrow(/never changed/)
    expect(rowCounts(book.db)).toEqual(before)
  })

  it('the same key twice makes one entry and the same answer', () => {
    const book = openBook()
    const first = value(add(book, '2024-01-01', [fit('f1', book.part.fuse30)], { onceKey: 'k1' }))
    expect(value(add(book, '2024-01-01', [fit('f1', book.part.fuse30)], { onceKey: 'k1' }))).toEqual(first)
    expect(rowCounts(book.db).entries).toBe(1)
  })

  it('a preview stores nothing and says what append then finds', () => {
    const book = openBook()
    value(add(book, '2024-01-01', [fit('f1', book.part.fuse30)]))
    const swap = book.entry('2024-02-01', [{ kind: 'swapped', component: 'f1', part: book.part.fuse5, fate: 'shelf' }])
    const before = rowCounts(book.db)
    const tried = value(preview(book.db, book.actor, swap))
    expect(rowCounts(book.db)).toEqual(before)
    expect(tried.before.findings[0]?.verdict).toBe('clear')
    expect(tried.after.findings[0]?.verdict).toBe('over')
    const saved = value(append(book.db, book.clock, book.actor, swap))
    expect(saved.shown?.appeared).toMatchObject([{ component: 'f1', verdict: 'over' }])
    expect(saved.sentences).toEqual(['Swapped F1 to 5 A fuse (old part: shelf).'])
    const back = value(add(book, '2024-03-01', [{ kind: 'swapped', component: 'f1', part: book.part.fuse30, fate: 'bin' }]))
    expect(back.shown?.cleared).toMatchObject([{ component: 'f1' }])
    expect(back.shown?.tightestClear).toMatchObject({ component: 'f1', verdict: 'clear' })
    expect(reportOn(book.db, book.actor, book.vehicleId, '2024-02-10').report.findings[0]?.verdict).toBe('over')
    expect(reportOn(book.db, book.actor, book.vehicleId).report.findings[0]?.verdict).toBe('clear')
  })
})

describe('corrections', () => {
  it('a corrected entry takes the place of the first, and can be corrected again', () => {
    const book = openBook()
    const first = value(add(book, '2024-01-01', [fit('f1', book.part.fuse5)]))
    value(add(book, '2024-01-01', [{ kind: 'renamed', component: 'f1', name: 'Main' }]))
    const second = value(correct(book.db, book.clock, book.actor, first.id, book.entry('2024-01-01', [fit('f1', book.part.fuse30)])))
    const third = value(
      correct(book.db, book.clock, book.actor, second.id, book.entry('2024-01-01', [fit('f1', book.part.fuse30, { position: '3' })])),
    )
    expect(stateOn(book.db, book.actor, book.vehicleId).components.get('f1')).toEqual({
      key: 'f1',
      name: 'Main',
      part: book.part.fuse30,
      position: '3',
    })
    expect(entriesOf(book.db, book.actor, book.vehicleId)).toHaveLength(2)
    expect(entryOf(book.db, book.actor, first.id)).toMatchObject({ withdrawn: true, changes: first.changes })
    expect(correctionsOf(book.db, book.actor, second.id)).toEqual({ corrects: first.id, withdrawnBy: null, replacedBy: third.id })
    expect(correct(book.db, book.clock, book.actor, first.id, book.entry('2024-01-01', []))).toMatchObject({
      ok: false,
      refusals: [{ code: 'already-corrected', entryId: second.id }],
    })
  })

  it('a withdrawn entry is gone from the state, marked in the journal, and can be brought back', () => {
    const book = openBook()
    const entry = value(add(book, '2024-01-01', [fit('f1', book.part.fuse30)]))
    expect(value(withdraw(book.db, book.clock, book.actor, entry.id, 'wrong vehicle')).withdrawn).toBe(true)
    expect(keys(book)).toEqual([])
    expect(entriesOf(book.db, book.actor, book.vehicleId)).toMatchObject([{ id: entry.id, withdrawn: true }])
    const undo = correctionsOf(book.db, book.actor, entry.id)?.withdrawnBy as string
    expect(value(withdraw(book.db, book.clock, book.actor, undo))).toMatchObject({ id: entry.id, withdrawn: false })
    expect(keys(book)).toEqual(['f1'])
    expect(reportOn(book.db, book.actor, book.vehicleId).document.components).toHaveLength(1)
  })

  it('a withdrawal that a later entry cannot stand is refused and that entry named', () => {
    const book = openBook()
    const entry = value(add(book, '2024-01-01', [fit('f1', book.part.fuse30)]))
    const later = value(add(book, '2024-02-01', [{ kind: 'renamed', component: 'f1', name: 'Main' }]))
    const before = rowCounts(book.db)
    expect(withdraw(book.db, book.clock, book.actor, entry.id)).toMatchObject({
      ok: false,
      refusals: [{ code: 'later-entry-depends', entryId: later.id }],
    })
    expect(rowCounts(book.db)).toEqual(before)
  })
})

describe('finish wiring later', () => {
  it('marks the components until it is finished', () => {
    const book = openBook()
    value(add(book, '2024-01-01', [fit('f1', book.part.fuse30)]))
    value(add(book, '2024-05-03', [{ kind: 'unfinished', key: 'lamps', components: ['f1'], text: 'two lamps' }]))
    expect(documentOn(book.db, book.actor, book.vehicleId).components[0]?.unfinished).toBe(
      'changed on 3 May, wiring not entered yet: two lamps',
    )
    expect(documentOn(book.db, book.actor, book.vehicleId, '2024-05-02').components[0]?.unfinished).toBeUndefined()
    value(add(book, '2024-05-20', [{ kind: 'finished', key: 'lamps' }]))
    expect(documentOn(book.db, book.actor, book.vehicleId).components[0]?.unfinished).toBeUndefined()
    expect(entriesAbout(book.db, book.actor, book.vehicleId, 'f1')).toHaveLength(2)
  })
})

describe('parts', () => {
  it('a revision marks the vehicles that hold the part stale, then they are judged again', async () => {
    const book = openBook()
    const other = value(createVehicle(book.db, book.clock, book.actor, { name: 'Wren', systemVoltage_V: 12 })).id
    value(add(book, '2024-01-01', [fit('f1', book.part.fuse30)]))
    value(append(book.db, book.clock, book.actor, { ...book.entry('2024-01-01', [fit('r1', book.part.relay)]), vehicleId: other }))
    const stale = () => book.db.$client.prepare('SELECT stale FROM projections ORDER BY vehicle_id').pluck().all()
    expect(stale()).toEqual([0, 0])
    value(revisePart(book.db, book.clock, book.actor, book.part.fuse30, { name: '30 A fuse', ratings: { rated_A: 7.5 } }))
    expect(stale()).toEqual([1, 0])
    expect(reportOn(book.db, book.actor, book.vehicleId, undefined, { asKept: true })).toMatchObject({
      stale: true,
      report: { findings: [{ verdict: 'clear' }] },
    })
    expect(await recheck(book.db, book.actor.householdId)).toBe(1)
    expect(reportOn(book.db, book.actor, book.vehicleId)).toMatchObject({ stale: false, report: { findings: [{ verdict: 'over' }] } })
    expect(reportOn(book.db, book.actor, book.vehicleId, '2024-01-02').report.findings[0]?.verdict).toBe('over')
    expect(partOf(book.db, book.actor, book.part.fuse30)?.revisions.map((revision) => revision.ratings.rated_A)).toEqual([30, 7.5])
  })

  it('are refused with their fields named', () => {
    const book = openBook()
    const before = rowCounts(book.db)
    const make = (kind: string, name: string, ratings: object) =>
      createPart(book.db, book.clock, book.actor, { kind, name, ratings } as never)
    expect(make('motor', 'x', {})).toMatchObject({ ok: false, refusals: [{ field: 'kind' }] })
    expect(make('fuse', '', { rated_A: -3 })).toMatchObject({ ok: false, refusals: [{ field: 'name' }, { field: 'ratings.rated_A' }] })
    expect(make('fuse', 'x', { make_A: 3 }).ok).toBe(false)
    expect(rowCounts(book.db)).toEqual(before)
  })

  it('are counted, taken and put back by entries, and not by withdrawn ones', () => {
    const book = openBook()
    const stock = (id: string) => partOf(book.db, book.actor, id)?.inStock
    value(countStock(book.db, book.clock, book.actor, book.part.fuse30, 3, 'Drawer 2'))
    value(add(book, '2024-01-01', [fit('f1', book.part.fuse30)]))
    expect(stock(book.part.fuse30)).toBe(2)
    const swap = value(add(book, '2024-02-01', [{ kind: 'swapped', component: 'f1', part: book.part.fuse5, fate: 'shelf' }]))
    expect([stock(book.part.fuse30), stock(book.part.fuse5)]).toEqual([3, 0])
    value(withdraw(book.db, book.clock, book.actor, swap.id))
    expect(stock(book.part.fuse30)).toBe(2)
    expect(partOf(book.db, book.actor, book.part.fuse30)?.place).toBe('Drawer 2')
    expect(partsOf(book.db, book.actor, { contains: 'FUSE', kind: 'fuse' }).map((part) => part.name)).toEqual(['30 A fuse', '5 A fuse'])
  })

  it('are found where they were fitted, on which dates', () => {
    const book = openBook()
    value(add(book, '2024-01-01', [fit('f1', book.part.fuse30)]))
    value(add(book, '2024-02-01', [{ kind: 'swapped', component: 'f1', part: book.part.fuse5, fate: 'shelf' }]))
    value(add(book, '2024-03-01', [fit('f2', book.part.fuse30)]))
    expect(whereFitted(book.db, book.actor, book.part.fuse30)).toMatchObject([
      { vehicleName: 'Bramble', component: 'f2', componentName: 'F2', from: '2024-03-01', until: null },
      { component: 'f1', from: '2024-01-01', until: '2024-02-01' },
    ])
  })

  it('whose unknown ratings block most come first', () => {
    const book = openBook()
    const unrated = (name: string) => value(createPart(book.db, book.clock, book.actor, { kind: 'fuse', name, ratings: {} })).id
    const [once, twice] = [unrated('Once'), unrated('Twice')]
    value(add(book, '2024-01-01', [fit('f1', once), fit('f2', twice), fit('f3', twice), fit('f4', book.part.fuse30)]))
    expect(unknownRatings(book.db, book.actor)).toMatchObject([
      { partName: 'Twice', rating: 'rated_A', settles: 2 },
      { partName: 'Once', rating: 'rated_A', settles: 1 },
    ])
  })
})

describe('another household', () => {
  it('sees and touches nothing', () => {
    const book = openBook()
    const entry = value(add(book, '2024-01-01', [fit('f1', book.part.fuse30)]))
    const stranger = household(book.db, book.clock, 'Stranger')
    const before = rowCounts(book.db)
    expect(vehicleOf(book.db, stranger, book.vehicleId)).toBeNull()
    expect(vehiclesOf(book.db, stranger)).toEqual([])
    expect(entryOf(book.db, stranger, entry.id)).toBeNull()
    expect(entriesOf(book.db, stranger, book.vehicleId)).toEqual([])
    expect(partOf(book.db, stranger, book.part.fuse30)).toBeNull()
    expect(partsOf(book.db, stranger)).toEqual([])
    expect(whereFitted(book.db, stranger, book.part.fuse30)).toEqual([])
    const theirs = { name: 'x', ratings: {} }
    for (const answer of [
      append(book.db, book.clock, stranger, book.entry('2024-01-01', [])),
      preview(book.db, stranger, book.entry('2024-01-01', [])),
      withdraw(book.db, book.clock, stranger, entry.id),
      correct(book.db, book.clock, stranger, entry.id, book.entry('2024-01-01', [])),
      revisePart(book.db, book.clock, stranger, book.part.fuse30, theirs),
      countStock(book.db, book.clock, stranger, book.part.fuse30, 1),
    ]) {
      expect(answer).toMatchObject({ ok: false, refusals: [{ code: 'not-found', status: 404 }] })
    }
    const own = value(createVehicle(book.db, book.clock, stranger, { name: 'Own', systemVoltage_V: 12 })).id
    expect(
      append(book.db, book.clock, stranger, { ...book.entry('2024-01-01', [fit('f1', book.part.fuse30)]), vehicleId: own }),
    ).toMatchObject({ ok: false, refusals: [{ code: 'does-not-apply' }] })
    // Their own vehicle and its digest are all that came.
    const { vehicles, changing_digests = 0 } = before
    expect([vehicles, rowCounts(book.db)]).toEqual([1, { ...before, vehicles: 2, changing_digests: changing_digests + 1 }])
  })
})

describe('the list of vehicles', () => {
  it('has the latest entries, odometer and count', () => {
    const book = openBook()
    for (const day of [1, 2, 3, 4]) value(add(book, `2024-01-0${day}`, [], { title: `Day ${day}`, odometer_km: 1000 * day }))
    expect(vehiclesOf(book.db, book.actor)).toMatchObject([
      { name: 'Bramble', odometer_km: 4000, entryCount: 4, latest: [{ title: 'Day 4' }, { title: 'Day 3' }, { title: 'Day 2' }] },
    ])
    const [, second] = entriesOf(book.db, book.actor, book.vehicleId, { limit: 2 })
    expect(entriesOf(book.db, book.actor, book.vehicleId, { before: second?.id }).map((entry) => entry.title)).toEqual(['Day 2', 'Day 1'])
    expect(entriesOf(book.db, book.actor, book.vehicleId, { contains: 'day 3' })).toHaveLength(1)
  })
})
