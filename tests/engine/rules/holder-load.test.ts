import { describe, expect, test } from 'vitest'
import { draws, off, wiring } from '../solve/wiring.ts'
import { finding, vehicle } from '../vehicle-builder.ts'
import { judged } from './judged.ts'

const fuse = (holder_A?: number) => ({
  rated_A: 40,
  rated_V: 32,
  form: 'C',
  resistance_ohm: 0.001,
  ...(holder_A === undefined ? {} : { holder_A }),
})
const load = (current_A: number) => ({ behaviour: 'current', current_A, rated_V: 12 })
const named = [
  { key: 'day', name: 'day', engine: 'off', on: [] },
  { key: 'night', name: 'lamps on', engine: 'off' },
] as const

describe('holder-load', () => {
  // By hand: one load of the stated current hangs on the fuse, so that is what its holder carries; tight above 80 % of 20 A = 16 A.
  test.each([
    [10, 'clear'],
    [16, 'clear'],
    [16.1, 'tight'],
    [20, 'tight'],
    [20.1, 'over'],
  ] as const)('%s A in a 20 A holder', (current_A, verdict) => {
    const found = judged(vehicle({ fuse: fuse(20), load: load(current_A) }), 'holder-load', 'f1')
    expect(found?.verdict).toBe(verdict)
    expect(found?.value).toBeCloseTo(current_A, 6)
    expect(found?.used).toBeCloseTo(current_A / 20, 6)
    expect([found?.limit, found?.unit, found?.tightAbove, found?.overAbove, found?.evidence]).toEqual([20, 'A', 0.8, 1, 'datasheet'])
    expect(found?.figures['steady current, A']).toBe(found?.value)
    expect(found?.figures['rating of the holder, A']).toBe(20)
  })

  // By hand: 75 W at 12 V are 6.25 A.
  test('a larger fuse does not make the holder larger: 6.25 A in a 6 A holder of a 40 A fuse', () => {
    const found = finding(vehicle({ fuse: fuse(6), load: load(75 / 12) }), 'holder-load', 'f1')
    expect([found?.verdict, found?.value?.toFixed(4)]).toEqual(['over', '6.2500'])
    expect(found?.says).toBe('The holder of Fuse F1 carries 6.25 A of its 6 A rating (everything on, engine off).')
    expect(found?.remedy).toBe('Fit a holder of a higher rating, or take load off.')
  })

  test('the worst condition counts', () => {
    const found = judged(vehicle({ fuse: fuse(20), load: load(18), conditions: named }), 'holder-load', 'f1')
    expect([found?.verdict, found?.condition]).toEqual(['tight', 'night'])
  })

  test('a fuse the wrong way round carries as much', () => {
    const document = wiring({
      parts: {
        bat: ['battery', { nominal_V: 12, openCircuit_V: 12.6, internalResistance_ohm: 0.01 }],
        f: ['fuse', fuse(20)],
        load: draws(21),
      },
      joins: ['bat:+ > f:out', 'f:in > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    const found = judged(document, 'holder-load', 'f')
    expect([found?.verdict, found?.value?.toFixed(3), found?.figures['steady current, A']]).toEqual(['over', '21.000', found?.value])
  })

  test('a breaker’s and a relay’s holder are judged alike', () => {
    const document = wiring({
      parts: {
        bat: ['battery', { nominal_V: 12, openCircuit_V: 12.6, internalResistance_ohm: 0.01 }],
        b: ['breaker', { rated_A: 30, holder_A: 20 }],
        r: ['relay', { make_A: 40, holder_A: 25 }],
        load: draws(21),
      },
      joins: ['bat:+ > b:in', 'b:out > r:30', 'r:87 > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    expect(judged(document, 'holder-load', 'b')).toMatchObject({ verdict: 'over', limit: 20 })
    expect(judged(document, 'holder-load', 'r')).toMatchObject({ verdict: 'tight', limit: 25 })
  })

  test('the two make contacts of a relay load its socket together: 12 A and 10 A through one 30', () => {
    const document = wiring({
      parts: {
        bat: ['battery', { nominal_V: 12, openCircuit_V: 12.6, internalResistance_ohm: 0.01 }],
        r: ['relay', { make_A: 40, holder_A: 20 }],
        one: draws(12),
        two: draws(10),
      },
      joins: ['bat:+ > r:30', 'r:87 > one:+', 'r:87b > two:+', 'one:- > bat:-', 'two:- > bat:-'],
      conditions: [off],
    })
    const found = judged(document, 'holder-load', 'r')
    expect([found?.verdict, found?.value?.toFixed(3)]).toEqual(['over', '22.000'])
  })

  const withUnknown = (current_A: number) =>
    vehicle({
      fuse: fuse(20),
      load: load(current_A),
      extraParts: [{ key: 'p2', kind: 'load', name: 'p2', ratings: { rated_V: 12 } }],
      extraComponents: [{ key: 'l2', name: 'Second lamp', part: 'p2', zone: 'z' }],
      extraJoins: [
        { from: 'r1:87', to: 'l2:+' },
        { from: 'l2:-', to: 'g1:a' },
      ],
    })
  test('a load of unknown current: unknown, and named; past the rating without it: over', () => {
    const found = finding(withUnknown(10), 'holder-load', 'f1')
    expect([found?.verdict, found?.missing]).toEqual(['unknown', ['current of Second lamp']])
    expect(found?.says).toContain('carries at least 10 A of its 20 A rating')
    expect(finding(withUnknown(18), 'holder-load', 'f1')?.verdict).toBe('unknown')
    expect(finding(withUnknown(21), 'holder-load', 'f1')?.verdict).toBe('over')
  })

  // Two batteries of 12 V and 13 V post to post, with nothing between them, cannot be solved.
  test('no working point: unknown, and said', () => {
    const rated = (volts: number) => ['battery', { nominal_V: 12, openCircuit_V: volts, internalResistance_ohm: 0 }] as const
    const document = wiring({
      parts: { bat: rated(12), aux: rated(13), f: ['fuse', fuse(20)], load: draws(5) },
      joins: ['bat:+ > aux:+', 'aux:- > bat:-', 'bat:+ > f:in', 'f:out > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    const found = judged(document, 'holder-load', 'f')
    expect([found?.verdict, found?.value, found?.missing]).toEqual(['unknown', null, ['a working point in this condition']])
    expect(found?.figures).toEqual({ 'steady current, A': null, 'rating of the holder, A': 20 })
  })

  describe('nothing to judge', () => {
    test('no holder stated', () => expect(finding(vehicle({ fuse: fuse() }), 'holder-load', 'f1')).toBeUndefined())
    test('a load that states one', () =>
      expect(finding(vehicle({ load: { ...load(10), holder_A: 5 } }), 'holder-load', 'l1')).toBeUndefined())
  })
})
