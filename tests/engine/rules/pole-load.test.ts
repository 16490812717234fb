import { describe, expect, test } from 'vitest'
import { battery, draws, off, type Parts, resists, wiring } from '../solve/wiring.ts'
import { judged } from './judged.ts'

// bat:+ straight to each pole, and one load behind each: a pole carries what its own load draws.
const plug = (pole_A: number | undefined, loads: readonly Parts[string][], more: { parts?: Parts; joins?: readonly string[] } = {}) =>
  wiring({
    parts: {
      bat: battery(12.6, 0.001),
      plug: ['connector', { contactResistance_ohm: 0.005, ...(pole_A === undefined ? {} : { pole_A }) }],
      ...Object.fromEntries(loads.map((load, n) => [`l${n + 1}`, load])),
      ...more.parts,
    },
    joins: [
      ...loads.flatMap((_, n) => [`bat:+ > plug:${n + 1}a`, `plug:${n + 1}b > l${n + 1}:+`, `l${n + 1}:- > bat:-`]),
      ...(more.joins ?? []),
    ],
    conditions: [off],
  })
const of = (document: ReturnType<typeof plug>) => judged(document, 'pole-load', 'plug')

describe('pole-load', () => {
  // By hand: the largest of the poles' own currents; 80 % of 13 A is 10.4 A.
  test.each([
    [5, 'clear'],
    [10.4, 'clear'],
    [10.5, 'tight'],
    [13, 'tight'],
    [13.1, 'over'],
  ] as const)('%s A and 2 A through poles of 13 A', (current_A, verdict) => {
    const found = of(plug(13, [draws(2), draws(current_A)]))
    expect(found?.verdict).toBe(verdict)
    expect(found?.value).toBeCloseTo(current_A, 6)
    expect(found?.used).toBeCloseTo(current_A / 13, 6)
    expect([found?.limit, found?.unit, found?.tightAbove, found?.overAbove]).toEqual([13, 'A', 0.8, 1])
    expect(found?.figures['current of pole 2, A']).toBe(found?.value)
    expect(found?.figures['rating of one pole, A']).toBe(13)
  })

  test('not their sum: 8 A and 8 A through poles of 13 A', () => {
    const found = of(plug(13, [draws(8), draws(8)]))
    expect(found?.verdict).toBe('clear')
    expect(found?.value).toBeCloseTo(8, 6)
  })

  test('the most loaded pole is named, wherever it stands', () => {
    expect(of(plug(13, [draws(12), draws(5)]))?.says).toBe('plug, pole 1, carries 12 A of its 13 A rating of one pole (off).')
    expect(of(plug(13, [draws(5), draws(12)]))?.says).toBe('plug, pole 2, carries 12 A of its 13 A rating of one pole (off).')
    const twelve = of(plug(13, [...Array.from({ length: 11 }, () => draws(1)), draws(12)]))
    expect(twelve?.says).toContain('pole 12, carries 12 A')
  })

  // By hand: two poles of 5 mΩ side by side feed one load of 20 A, 10 A each.
  test('a load shared over two poles', () => {
    const document = wiring({
      parts: { bat: battery(12.6, 0.001), plug: ['connector', { pole_A: 13, contactResistance_ohm: 0.005 }], load: draws(20) },
      joins: ['bat:+ > plug:1a', 'bat:+ > plug:2a', 'plug:1b > load:+', 'plug:2b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    expect(of(document)?.verdict).toBe('clear')
    expect(of(document)?.value).toBeCloseTo(10, 6)
  })

  // By hand: 12 V behind 1 mΩ on 1.199 Ω and a pole of no resistance: 12 / 1.2 = 10 A.
  test('a resistance for a load: 10 A of 10 A', () => {
    const document = wiring({
      parts: { bat: battery(12, 0.001), plug: ['connector', { pole_A: 10, contactResistance_ohm: 0 }], load: resists(1.199) },
      joins: ['bat:+ > plug:1a', 'plug:1b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    expect(of(document)?.verdict).toBe('tight')
    expect(of(document)?.value).toBeCloseTo(10, 6)
  })

  test('the worst condition counts', () => {
    const document = {
      ...plug(13, [draws(12), draws(5)]),
      conditions: [
        { key: 'day', name: 'day', engine: 'off' as const, on: ['l2'] },
        { key: 'night', name: 'night', engine: 'off' as const },
      ],
    }
    expect([of(document)?.condition, of(document)?.verdict]).toEqual(['night', 'tight'])
  })

  test('the rating not known: unknown, and named', () => {
    const found = of(plug(undefined, [draws(5)]))
    expect([found?.verdict, found?.limit, found?.missing, found?.evidence]).toEqual(['unknown', null, ['rating of one pole'], 'assumed'])
    expect(found?.says).toBe('plug, pole 1, carries 5 A; not known: rating of one pole (off).')
  })

  test('a load of unknown current on any pole: unknown; past the rating without it: over', () => {
    const unknown: Parts[string] = ['load', { rated_V: 12 }]
    const found = of(plug(13, [draws(5), unknown]))
    expect([found?.verdict, found?.missing]).toEqual(['unknown', ['current of l2']])
    expect(of(plug(13, [draws(14), unknown]))?.verdict).toBe('over')
  })

  describe('the evidence', () => {
    const graded = (document: ReturnType<typeof plug>) => ({
      ...document,
      parts: document.parts.map((part) => (part.key === 'plug' ? { ...part, evidence: { pole_A: 'marked' as const } } : part)),
    })
    test('is that of the rating', () => expect(of(graded(plug(13, [draws(5)])))?.evidence).toBe('marked'))
    // Two joins of no resistance side by side: how they share is not determined, and is split equally.
    test('is assumed where the share of a way is', () => {
      const meshed = graded(plug(13, [draws(10)], { parts: { bar: ['block', {}] }, joins: ['plug:1a > bar:1', 'bat:+ > bar:2'] }))
      expect(of(meshed)?.evidence).toBe('assumed')
    })
  })

  test('no working point: unknown, and no pole named', () => {
    const rated = (volts: number): Parts[string] => ['battery', { nominal_V: 12, openCircuit_V: volts, internalResistance_ohm: 0 }]
    const document = wiring({
      parts: { bat: rated(12), aux: rated(13), plug: ['connector', { pole_A: 13, contactResistance_ohm: 0.005 }], load: draws(5) },
      joins: ['bat:+ > aux:+', 'aux:- > bat:-', 'bat:+ > plug:1a', 'plug:1b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    expect([of(document)?.verdict, of(document)?.value, of(document)?.missing]).toEqual([
      'unknown',
      null,
      ['a working point in this condition'],
    ])
  })

  describe('nothing to judge', () => {
    test('a connector that nothing is joined to', () => {
      const document = wiring({
        parts: { bat: battery(12.6, 0.001), plug: ['connector', {}], load: draws(5) },
        joins: ['bat:+ > load:+', 'load:- > bat:-'],
        conditions: [off],
      })
      expect(of(document)).toBeUndefined()
    })
    test('a block', () => {
      const document = wiring({
        parts: { bat: battery(12.6, 0.001), plug: ['block', {}], load: draws(5) },
        joins: ['bat:+ > plug:1', 'plug:2 > load:+', 'load:- > bat:-'],
        conditions: [off],
      })
      expect(of(document)).toBeUndefined()
    })
  })
})
