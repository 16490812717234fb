import fc from 'fast-check'
import { describe, expect, it, vi } from 'vitest'
import { type Chain, type ChainRow, type ConductorRow, expandChain, insertInLine, readChain } from '../../server/records/chain.ts'
import type { Change } from '../../server/records/contract.ts'
import type { Part } from '../../server/records/engine-types.ts'
import { append, preview, previewChain, previewInsert, recordChain, recordInsert } from '../../server/records/journal.ts'
import { partsById } from '../../server/records/part-rows.ts'
import { restOf } from '../../server/records/rest.ts'
import { fold, type State, stateOn } from '../../server/records/state.ts'
import { type Book, fit, join, openBook, rowCounts, value } from './book.ts'

vi.mock('../../server/engine/rules/check.ts', async () => await import('./plain-judge.ts'))
vi.mock('../../server/engine/compare.ts', async () => await import('./plain-judge.ts'))

/** A block, a ground point and a dash switch stand already. */
function wired(): Book {
  const book = openBook()
  const zone = { kind: 'described', zone: { key: 'bay', name: 'Engine bay' } } as const
  value(
    append(
      book.db,
      book.clock,
      book.actor,
      book.entry('2024-01-01', [zone, fit('block-b', book.part.block), fit('g2', book.part.ground), fit('dash', book.part.block)]),
    ),
  )
  return book
}
const facts = (book: Book) => ({ state: stateOn(book.db, book.actor, book.vehicleId), parts: partsById(book.db, book.actor) })
const heading = (book: Book) => ({ vehicleId: book.vehicleId, effectiveOn: '2024-02-01', title: 'Fog lamps' })

function foldOn(start: State, changes: readonly Change[], kindOfPart: (id: string) => string | undefined): State {
  const state = fold([{ id: 'e', effectiveOn: '2024-02-01', odometer_km: null, changes }], undefined, { start, kindOfPart })
  if ('conflict' in state) throw new Error(state.conflict.sentence)
  return state
}

function fogLamps(book: Book): Chain {
  const wire = (length_m: number | null): ConductorRow => ({ type: 'conductor', length_m, part: { id: book.part.wire } })
  return {
    from: 'block-b:4',
    rows: [
      wire(0.4),
      {
        type: 'fuse',
        name: 'Fog fuse',
        part: { new: { kind: 'fuse', name: '15 A fuse', ratings: { rated_A: 15 }, evidence: { rated_A: 'marked' } } },
      },
      { type: 'relay', name: 'R7', part: { id: book.part.relay }, zone: 'bay' },
      wire(3),
      { type: 'load', name: 'Fog lamps', part: { id: book.part.lamp } },
    ],
    return: { conductor: wire(0.6), to: 'g2:1' },
    control: { from: 'dash:2', groundTo: 'g2:2' },
  }
}

describe('a chain', () => {
  it('of a fuse, a relay, a load and three conductors makes nine joins, each where current flows', () => {
    const book = wired()
    const tried = value(previewChain(book.db, book.actor, { ...heading(book), chain: fogLamps(book) }))
    expect(tried.records).toEqual({
      kinds: [
        { kind: 'conductor', count: 3 },
        { kind: 'fuse', count: 1 },
        { kind: 'relay', count: 1 },
        { kind: 'load', count: 1 },
      ],
      joins: 9,
    })
    expect(
      tried.changes
        .filter((change) => change.kind === 'joined')
        .map((change) => (change.kind === 'joined' ? [change.from, change.to] : [])),
    ).toEqual([
      ['block-b:4', 'block-b-to-fog-fuse:a'],
      ['block-b-to-fog-fuse:b', 'fog-fuse:in'],
      ['fog-fuse:out', 'r7:30'],
      ['r7:87', 'r7-to-fog-lamps:a'],
      ['r7-to-fog-lamps:b', 'fog-lamps:+'],
      ['fog-lamps:-', 'fog-lamps-return:a'],
      ['fog-lamps-return:b', 'g2:1'],
      ['dash:2', 'r7:86'],
      ['r7:85', 'g2:2'],
    ])
    expect(tried.newParts.map((part) => part.id)).toEqual(['new-1'])
  })

  it('tried stores nothing; saved stores its parts and one entry, and reads back as entered', () => {
    const book = wired()
    const chain = fogLamps(book)
    const before = rowCounts(book.db)
    value(previewChain(book.db, book.actor, { ...heading(book), chain }))
    expect(rowCounts(book.db)).toEqual(before)
    const saved = value(recordChain(book.db, book.clock, book.actor, { ...heading(book), chain, onceKey: 'k' }))
    expect(value(recordChain(book.db, book.clock, book.actor, { ...heading(book), chain, onceKey: 'k' })).id).toBe(saved.id)
    const after = rowCounts(book.db)
    expect([after.entries, after.parts]).toEqual([(before.entries ?? 0) + 1, (before.parts ?? 0) + 1])
    const { state, parts } = facts(book)
    const fuse = state.components.get('fog-fuse')?.part as string
    expect(parts.get(fuse)).toMatchObject({ name: '15 A fuse', evidence: { rated_A: 'marked' } })
    const rows = chain.rows.map((row) => ('name' in row && row.name === 'Fog fuse' ? { ...row, part: { id: fuse } } : row))
    expect(readChain(state, parts, 'block-b:4', 'fog-lamps')).toEqual({ ...chain, rows })
  })

  it('read back equals the chain entered, whatever it is made of', () => {
    const book = wired()
    const { state, parts } = facts(book)
    const more = new Map<string, Part>(parts)
    for (const kind of [
      'fuse',
      'breaker',
      'relay',
      'switch',
      'diode',
      'connector',
      'splice',
      'block',
      'load',
      'pump',
      'conductor',
      'module',
      'converter',
    ]) {
      more.set(`p-${kind}`, { key: `p-${kind}`, kind, name: kind, ratings: {} })
    }
    const zone = fc.constantFrom({}, { zone: 'bay' })
    const wire = fc
      .record({ length_m: fc.option(fc.integer({ min: 1, max: 900 }).map((cm) => cm / 100)), zone })
      .map(({ length_m, zone: where }): ConductorRow => ({ type: 'conductor', length_m, part: { id: 'p-conductor' }, ...where }))
    const way = (kind: string): fc.Arbitrary<object> => {
      if (kind === 'relay') return fc.constantFrom({}, { leave: '87a' }, { enter: '87', leave: '30' })
      if (kind === 'switch' || kind === 'module') return fc.constantFrom({}, { leave: 'out2' })
      if (kind === 'converter') return fc.constant({ leave: 'out' })
      if (kind === 'connector') return fc.constantFrom({}, { enter: '3a', leave: '3b' })
      if (kind === 'splice' || kind === 'block') return fc.constantFrom({}, { enter: 'in', leave: '7' })
      return fc.constant({})
    }
    const device = fc
      .constantFrom('fuse', 'breaker', 'relay', 'switch', 'diode', 'connector', 'splice', 'block', 'module', 'converter')
      .chain((kind) =>
        fc
          .record({ way: way(kind), zone, name: fc.constantFrom('Main', 'R7', 'Été lamp', 'F 3', '!!!') })
          .map((row): ChainRow => ({ type: kind, name: row.name, part: { id: `p-${kind}` }, ...row.zone, ...row.way })),
      )
    const end = fc
      .record({ kind: fc.constantFrom('load', 'pump', 'converter'), zone })
      .map(({ kind, zone: where }): ChainRow => ({ type: kind, name: 'The end', part: { id: `p-${kind}` }, ...where }))
    const optional = fc.option(wire, { nil: undefined })
    const chains = fc.record({
      rows: fc.array(fc.oneof(wire, device), { maxLength: 8 }),
      end,
      back: optional,
      returns: fc.boolean(),
      feed: optional,
      ground: optional,
      controls: fc.boolean(),
    })
    fc.assert(
      fc.property(chains, (made) => {
        const hasRelay = made.rows.some((row) => row.type === 'relay')
        const chain: Chain = {
          from: 'block-b:4',
          rows: [...made.rows, made.end],
          return: made.returns ? { ...(made.back ? { conductor: made.back } : {}), to: 'g2:1' } : null,
          control:
            hasRelay && made.controls
              ? {
                  from: 'dash:2',
                  groundTo: 'g2:2',
                  ...(made.feed ? { conductor: made.feed } : {}),
                  ...(made.ground ? { groundConductor: made.ground } : {}),
                }
              : null,
        }
        const expanded = expandChain({ state, parts: more, chain })
        if (!expanded.ok) throw new Error(JSON.stringify(expanded.refusals))
        // The changes are put into the state by the journal's own fold, with the invented parts known to it.
        const wiredUp = foldOn(state, expanded.changes, (id) => more.get(id)?.kind)
        const last = [...wiredUp.components.values()].find((component) => component.name === 'The end')
        expect(readChain(wiredUp, more, 'block-b:4', last?.key ?? '')).toEqual(chain)
        for (const component of wiredUp.components.values()) expect(component.key).toMatch(/^[a-z0-9][a-z0-9-]*$/)
      }),
      { numRuns: 300 },
    )
  })

  const wrong: [string, (chain: Chain, book: Book) => Chain, string][] = [
    ['an unknown start', (chain) => ({ ...chain, from: 'block-z:1' }), 'from'],
    ['no rows and no return', (chain) => ({ ...chain, rows: [], return: null, control: null }), 'rows'],
    ['a loose wire', (chain) => ({ ...chain, rows: chain.rows.slice(0, 4), return: null }), 'rows.3'],
    [
      'a row of one kind with a part of another',
      (chain, book) => ({ ...chain, rows: [{ type: 'fuse', name: 'X', part: { id: book.part.relay } }], control: null }),
      'rows.0.part',
    ],
    [
      'a part nobody knows',
      (chain) => ({ ...chain, rows: [{ type: 'fuse', name: 'X', part: { id: 'none' } }], control: null }),
      'rows.0.part',
    ],
    [
      'no length at all',
      (chain, book) => ({ ...chain, rows: [{ type: 'conductor', length_m: 0, part: { id: book.part.wire } }, ...chain.rows.slice(1)] }),
      'rows.0.length_m',
    ],
    [
      'no name',
      (chain, book) => ({ ...chain, rows: [{ type: 'load', name: ' ', part: { id: book.part.lamp } }], control: null }),
      'rows.0.name',
    ],
    [
      'an absent zone',
      (chain, book) => ({ ...chain, rows: [{ type: 'load', name: 'L', part: { id: book.part.lamp }, zone: 'moon' }], control: null }),
      'rows.0.zone',
    ],
    [
      'a terminal the kind has not',
      (chain, book) => ({ ...chain, rows: [{ type: 'load', name: 'L', part: { id: book.part.lamp }, enter: '30' }], control: null }),
      'rows.0.enter',
    ],
    [
      'a coil without a relay',
      (chain, book) => ({ ...chain, rows: [{ type: 'load', name: 'L', part: { id: book.part.lamp } }] }),
      'control',
    ],
    ['a return to nowhere', (chain) => ({ ...chain, return: { to: 'g9:1' } }), 'return.to'],
    ['a coil fed from nowhere', (chain) => ({ ...chain, control: { from: 'dash9:1' } }), 'control.from'],
  ]
  it.each(wrong)('with %s is refused, its row named, and nothing is stored', (_name, change, field) => {
    const book = wired()
    const before = rowCounts(book.db)
    const answer = recordChain(book.db, book.clock, book.actor, { ...heading(book), chain: change(fogLamps(book), book) })
    expect(answer.ok ? [] : answer.refusals.map((refusal) => refusal.field)).toEqual([field])
    expect(rowCounts(book.db)).toEqual(before)
  })

  it('whose new part is refused stores neither part nor entry', () => {
    const book = wired()
    const before = rowCounts(book.db)
    const bad: ChainRow = { type: 'load', name: 'L', part: { new: { kind: 'load', name: 'L', ratings: { current_A: -4 } } } }
    const good: ChainRow = { type: 'fuse', name: 'F', part: { new: { kind: 'fuse', name: 'F', ratings: { rated_A: 10 } } } }
    const chain = { from: 'block-b:1', rows: [good, bad], return: null, control: null }
    expect(recordChain(book.db, book.clock, book.actor, { ...heading(book), chain })).toMatchObject({
      ok: false,
      refusals: [{ field: 'ratings.current_A' }],
    })
    expect(rowCounts(book.db)).toEqual(before)
  })

  it('may finish, in the same entry, what was left to be entered', () => {
    const book = wired()
    const left = { kind: 'unfinished', key: 'fog', components: ['block-b'], text: 'fog lamps' } as const
    value(append(book.db, book.clock, book.actor, book.entry('2024-01-15', [left])))
    const given = { ...heading(book), chain: fogLamps(book), also: [{ kind: 'finished', key: 'fog' } as const] }
    expect(value(previewChain(book.db, book.actor, given)).document.components[0]?.unfinished).toBeUndefined()
    value(recordChain(book.db, book.clock, book.actor, given))
    expect(facts(book).state.unfinished.size).toBe(0)
    expect(recordChain(book.db, book.clock, book.actor, { ...given, chain: { ...fogLamps(book), from: 'block-b:5' } })).toMatchObject({
      ok: false,
    })
  })

  it('recorded late takes no key that a later entry uses', () => {
    const book = wired()
    value(append(book.db, book.clock, book.actor, book.entry('2024-05-01', [fit('fog-lamps', book.part.lamp)])))
    value(recordChain(book.db, book.clock, book.actor, { ...heading(book), chain: fogLamps(book) }))
    expect(stateOn(book.db, book.actor, book.vehicleId).components.has('fog-lamps-2')).toBe(true)
  })
})

describe('insert in line', () => {
  const cutting = (near_m: number | null, nearEnd?: 'a' | 'b') => (book: Book) => ({
    conductor: 'r7-to-fog-lamps',
    near_m,
    nearEnd,
    row: { type: 'fuse', name: 'New fuse', part: { id: book.part.fuse5 } },
  })
  const laid = (): Book => {
    const book = wired()
    value(recordChain(book.db, book.clock, book.actor, { ...heading(book), chain: fogLamps(book) }))
    return book
  }

  it.each(['a', 'b'] as const)('from end %s: the near piece keeps its name, lengths sum, joins move', (nearEnd) => {
    const book = laid()
    value(recordInsert(book.db, book.clock, book.actor, { ...heading(book), insert: cutting(1.25, nearEnd)(book) }))
    const { state } = facts(book)
    const far = [...state.components.values()].find((component) => component.name === 'R7 to Fog lamps beyond New fuse')
    expect(state.components.get('r7-to-fog-lamps')).toMatchObject({ name: 'R7 to Fog lamps', length_m: 1.25 })
    expect(far).toMatchObject({ length_m: 1.75, part: book.part.wire })
    const tied = new Set([...state.joins.values()].map((join) => [join.from, join.to].sort().join(' ')))
    const near = 'r7-to-fog-lamps'
    const wanted =
      nearEnd === 'a'
        ? [`r7:87 ${near}:a`, `${near}:b new-fuse:in`, `new-fuse:out ${far?.key}:a`, `${far?.key}:b fog-lamps:+`]
        : [`${near}:b fog-lamps:+`, `${near}:a new-fuse:in`, `new-fuse:out ${far?.key}:b`, `${far?.key}:a r7:87`]
    for (const pair of wanted) expect(tied).toContain(pair.split(' ').sort().join(' '))
    expect(state.joins.size).toBe(11)
  })

  it.each([
    ['beyond its end', 3, 'near_m'],
    ['at its very start', 0, 'near_m'],
    ['nowhere said', null, 'near_m'],
  ])('%s is refused', (_name, near_m, field) => {
    const book = laid()
    const before = rowCounts(book.db)
    expect(recordInsert(book.db, book.clock, book.actor, { ...heading(book), insert: cutting(near_m)(book) })).toMatchObject({
      ok: false,
      refusals: [{ field }],
    })
    expect(rowCounts(book.db)).toEqual(before)
  })

  it('of what is no conductor is refused', () => {
    const book = laid()
    const insert = { ...cutting(1)(book), conductor: 'r7' }
    expect(insertInLine({ ...facts(book), insert })).toMatchObject({ ok: false, refusals: [{ field: 'conductor' }] })
    expect(value(previewInsert(book.db, book.actor, { ...heading(book), insert: cutting(1)(book) })).records.joins).toBe(3)
  })
})

describe('one form, tried and saved', () => {
  it('judges what is tried as what is saved', () => {
    const book = wired()
    const rows: ChainRow[] = [
      { type: 'fuse', name: 'F', part: { id: book.part.fuse5 } },
      { type: 'load', name: 'L', part: { id: book.part.lamp } },
    ]
    const chain = { from: 'block-b:1', rows, return: null, control: null }
    const tried = value(previewChain(book.db, book.actor, { ...heading(book), chain }))
    const saved = value(recordChain(book.db, book.clock, book.actor, { ...heading(book), chain }))
    expect(saved.shown?.findings).toEqual(tried.after.findings)
    expect(restOf(facts(book).state, facts(book).parts, 'block-b:1')).toBeNull()
    expect(value(preview(book.db, book.actor, book.entry('2024-03-01', [join('l:-', 'g2:1')]))).document.joins).toHaveLength(3)
  })
})
