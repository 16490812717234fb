import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { compareStates, type Difference } from '../../server/records/compare-states.ts'
import { append, correct, withdraw } from '../../server/records/journal.ts'
import { emptyState, type State, stateOn } from '../../server/records/state.ts'
import { fit, join, openBook, value } from './book.ts'

const empty = emptyState({ name: 'V', systemVoltage_V: 12 })
const withComponents = (
  ...components: { key: string; name: string; part: string; length_m?: number; zone?: string; bundle?: number }[]
): State => ({
  ...empty,
  components: new Map(components.map((one) => [one.key, one])),
})

describe('two states made by hand', () => {
  const wire = { key: 'w1', name: 'Wire', part: 'thin', length_m: 2, zone: 'cab', bundle: 1 }

  it('names what was fitted, removed, swapped, renamed and rerouted, each with both figures', () => {
    const before = withComponents(wire, { key: 'f1', name: 'F1', part: 'ten' })
    const after = withComponents({ ...wire, name: 'Lead', part: 'thick', length_m: 3, bundle: 4 }, { key: 'f2', name: 'F2', part: 'ten' })
    expect(compareStates(before, after)).toEqual([
      { kind: 'renamed', component: 'w1', from: 'Wire', to: 'Lead' },
      { kind: 'swapped', component: 'w1', from: 'thin', to: 'thick' },
      { kind: 'rerouted', component: 'w1', field: 'length_m', from: 2, to: 3 },
      { kind: 'rerouted', component: 'w1', field: 'bundle', from: 1, to: 4 },
      { kind: 'removed', component: { key: 'f1', name: 'F1', part: 'ten' } },
      { kind: 'fitted', component: { key: 'f2', name: 'F2', part: 'ten' } },
    ])
  })

  it('a join said from its other end is the same join; its resistance is a figure', () => {
    const joined = (from: string, to: string, resistance_ohm?: number): State => ({
      ...empty,
      joins: new Map([['a:1 b:1', { from, to, ...(resistance_ohm === undefined ? {} : { resistance_ohm }) }]]),
    })
    expect(compareStates(joined('a:1', 'b:1'), joined('b:1', 'a:1'))).toEqual([])
    expect(compareStates(joined('a:1', 'b:1'), joined('a:1', 'b:1', 0.01))).toEqual([
      { kind: 'described', of: 'join', key: 'a:1 b:1', field: 'resistance_ohm', from: null, to: 0.01 },
    ])
    expect(compareStates(empty, joined('a:1', 'b:1'))).toEqual([{ kind: 'joined', join: { from: 'a:1', to: 'b:1' } }])
    expect(compareStates(joined('a:1', 'b:1'), empty)).toEqual([{ kind: 'unjoined', join: { from: 'a:1', to: 'b:1' } }])
  })

  it('figures of the vehicle, a zone and what is due; the entry that said it is no difference', () => {
    const due = (entryId: string, on: string): State => ({ ...empty, due: new Map([['d', { key: 'd', what: 'Look', on, entryId }]]) })
    expect(compareStates(due('one', '2027-01-01'), due('two', '2027-01-01'))).toEqual([])
    expect(compareStates(due('one', '2027-01-01'), due('one', '2028-01-01'))).toMatchObject([
      { kind: 'due', key: 'd', from: { on: '2027-01-01' }, to: { on: '2028-01-01' } },
    ])
    const warm: State = {
      ...empty,
      vehicle: { ...empty.vehicle, reserve_h: 12 },
      zones: new Map([['cab', { key: 'cab', name: 'Cab', ambient_degC: 40 }]]),
    }
    expect(compareStates(empty, warm)).toEqual([
      { kind: 'described', of: 'vehicle', key: '', field: 'reserve_h', from: null, to: 12 },
      { kind: 'zone', key: 'cab', from: null, to: { key: 'cab', name: 'Cab', ambient_degC: 40 } },
    ])
  })
})

const maybe = <T>(one: fc.Arbitrary<T>) => fc.option(one, { nil: undefined })
const component = fc.record({
  key: fc.constantFrom('a', 'b', 'c', 'd'),
  name: fc.constantFrom('One', 'Two'),
  part: fc.constantFrom('p', 'q', 'r'),
  length_m: maybe(fc.constantFrom(0, 1, 2.5)),
  zone: maybe(fc.constantFrom('cab', 'bay')),
  bundle: maybe(fc.integer({ min: 1, max: 3 })),
  colour: maybe(fc.constantFrom('RD', 'BK')),
})
const joins = fc.uniqueArray(fc.constantFrom('a:1 b:1', 'a:2 c:1', 'b:2 d:1'))
const state: fc.Arbitrary<State> = fc
  .record({
    components: fc.uniqueArray(component, { selector: (one) => one.key }),
    joins,
    reserve_h: maybe(fc.constantFrom(1, 2)),
    zones: fc.uniqueArray(fc.constantFrom('cab', 'bay')),
    degC: fc.constantFrom(20, 60),
  })
  .map((drawn) => ({
    ...empty,
    vehicle: { ...empty.vehicle, reserve_h: drawn.reserve_h },
    components: new Map(drawn.components.map((one) => [one.key, one])),
    joins: new Map(drawn.joins.map((key) => [key, { from: key.split(' ')[0] as string, to: key.split(' ')[1] as string }])),
    zones: new Map(drawn.zones.map((key) => [key, { key, name: key, ambient_degC: drawn.degC }])),
  }))

/** What a state says, whatever the order in which it came to say it. */
function plain(state: State): unknown {
  const sorted = (map: ReadonlyMap<string, object>) =>
    [...map]
      .sort(([a], [b]) => (a < b ? -1 : 1))
      .map(([key, one]) => [
        key,
        Object.entries(one)
          .filter(([, value]) => value !== undefined)
          .sort(),
      ])
  return [
    Object.entries(state.vehicle)
      .filter(([, one]) => one !== undefined)
      .sort(),
    sorted(state.components),
    sorted(state.joins),
    sorted(state.zones),
  ]
}

/** Written apart from the comparison: does each difference to a copy. */
function applied(start: State, differences: readonly Difference[]): State {
  const components = new Map<string, Record<string, unknown>>([...start.components].map(([key, one]) => [key, { ...one }]))
  const [zones, ties, vehicle] = [new Map(start.zones), new Map(start.joins), { ...start.vehicle } as Record<string, unknown>]
  const set = (key: string, field: string, to: unknown) => {
    const one = components.get(key) as Record<string, unknown>
    one[field] = to ?? undefined
  }
  for (const one of differences) {
    if (one.kind === 'fitted') components.set(one.component.key, { ...one.component })
    else if (one.kind === 'removed') components.delete(one.component.key)
    else if (one.kind === 'swapped') set(one.component, 'part', one.to)
    else if (one.kind === 'renamed') set(one.component, 'name', one.to)
    else if (one.kind === 'rerouted') set(one.component, one.field, one.to)
    else if (one.kind === 'joined') ties.set(`${one.join.from} ${one.join.to}`, one.join)
    else if (one.kind === 'unjoined') ties.delete(`${one.join.from} ${one.join.to}`)
    else if (one.kind === 'described' && one.of === 'component') set(one.key, one.field, one.to)
    else if (one.kind === 'described' && one.of === 'vehicle') vehicle[one.field] = one.to ?? undefined
    else if (one.kind === 'zone') one.to === null ? zones.delete(one.key) : zones.set(one.key, one.to)
    else throw new Error(`no way to do ${one.kind}`)
  }
  return { ...start, vehicle, components, joins: ties, zones } as unknown as State
}

describe('properties', () => {
  it('a state compared with itself: nothing', () => {
    fc.assert(
      fc.property(state, (one) => {
        expect(compareStates(one, structuredClone(one))).toEqual([])
      }),
    )
  })

  it('the differences, done to the first state in any order, make the second', () => {
    fc.assert(
      fc.property(state, state, fc.infiniteStream(fc.nat()), (one, two, order) => {
        const shuffled = compareStates(one, two)
          .map((difference) => ({ difference, at: order.next().value as number }))
          .sort((a, b) => a.at - b.at)
          .map(({ difference }) => difference)
        expect(plain(applied(one, shuffled))).toEqual(plain(two))
      }),
    )
  })

  it('the other way round, what was fitted is removed and every pair is turned', () => {
    fc.assert(
      fc.property(state, state, (one, two) => {
        const turned = compareStates(one, two).map((difference): unknown => {
          const opposite = { fitted: 'removed', removed: 'fitted', joined: 'unjoined', unjoined: 'joined' }[difference.kind as string]
          if (opposite) return { ...difference, kind: opposite }
          return 'from' in difference ? { ...difference, from: difference.to, to: difference.from } : difference
        })
        const text = (all: readonly unknown[]) =>
          all.map((difference) => JSON.stringify(Object.entries(difference as object).sort(([a], [b]) => (a < b ? -1 : 1)))).sort()
        expect(text(compareStates(two, one))).toEqual(text(turned))
      }),
    )
  })
})

describe('of a journal', () => {
  const days = (book: ReturnType<typeof openBook>, from: string, to: string) =>
    compareStates(stateOn(book.db, book.actor, book.vehicleId, from), stateOn(book.db, book.actor, book.vehicleId, to))

  it('what was fitted and removed again in between is no difference', () => {
    const book = openBook()
    value(append(book.db, book.clock, book.actor, book.entry('2024-01-01', [fit('f1', book.part.fuse30)])))
    value(append(book.db, book.clock, book.actor, book.entry('2024-02-01', [fit('r7', book.part.relay), join('f1:out', 'r7:30')])))
    value(append(book.db, book.clock, book.actor, book.entry('2024-03-01', [{ kind: 'removed', component: 'r7', fate: 'bin' }])))
    expect(days(book, '2024-01-01', '2024-03-01')).toEqual([])
    expect(days(book, '2024-01-01', '2024-02-01').map((one) => one.kind)).toEqual(['fitted', 'joined'])
  })

  it('a correction counts as it stands now, and a withdrawn entry not at all', () => {
    const book = openBook()
    value(append(book.db, book.clock, book.actor, book.entry('2024-01-01', [fit('f1', book.part.fuse30)])))
    const swap = value(
      append(
        book.db,
        book.clock,
        book.actor,
        book.entry('2024-02-01', [{ kind: 'swapped', component: 'f1', part: book.part.fuse5, fate: 'bin' }]),
      ),
    )
    expect(days(book, '2024-01-31', '2024-02-01')).toEqual([
      { kind: 'swapped', component: 'f1', from: book.part.fuse30, to: book.part.fuse5 },
    ])
    const later = value(correct(book.db, book.clock, book.actor, swap.id, { ...book.entry('2024-04-01', swap.changes) }))
    expect(days(book, '2024-01-31', '2024-02-01')).toEqual([])
    expect(days(book, '2024-03-31', '2024-04-01')).toHaveLength(1)
    value(withdraw(book.db, book.clock, book.actor, later.id))
    expect(days(book, '2024-01-01', '2024-12-31')).toEqual([])
  })
})
