/** Long because the law, its cap and what is not judged are each worked by hand. */
import { describe, expect, test } from 'vitest'
import type { Condition, Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, running, wiring } from '../solve/wiring.ts'
import { judged } from './judged.ts'

const camp = (
  current_A: number | null,
  reserve_h: number | undefined,
  more: Ratings = { capacity_Ah: 100, peukert: 1.2 },
  conditions: readonly Condition[] = [off],
) => {
  const document = wiring({
    parts: {
      bat: ['battery', { nominal_V: 12, openCircuit_V: 12.6, internalResistance_ohm: 0.001, ...more }],
      load: current_A === null ? ['load', { rated_V: 12 }] : draws(current_A),
    },
    joins: ['bat:+ > load:+', 'load:- > bat:-'],
    conditions,
  })
  return asking(document, reserve_h)
}
const asking = (document: VehicleDocument, reserve_h: number | undefined): VehicleDocument =>
  reserve_h === undefined ? document : { ...document, vehicle: { ...document.vehicle, reserve_h } }
const of = (document: VehicleDocument, component = 'bat') => judged(document, 'battery-reserve', component)

describe('battery-reserve', () => {
  // Peukert, 20 h form: 100 Ah, k 1.2 at 10 A: t = 20·(100/(10·20))^1.2 = 20·0.435275 = 8.7055 h to empty (memory, worked by the law as restated, read).
  // To half: 4.35275 h. 80 % of it are 3.4822 h.
  test.each([
    [3, 'clear'],
    [3.48, 'clear'],
    [3.49, 'tight'],
    [4.35, 'tight'],
    [4.36, 'over'],
    [6, 'over'],
  ] as const)('10 A from 100 Ah for %s h', (reserve_h, verdict) => {
    const found = of(camp(10, reserve_h))
    expect(found?.verdict).toBe(verdict)
    expect(found?.value).toBeCloseTo(8.7055 / 2, 4)
    expect(found?.used).toBeCloseTo(reserve_h / 4.35275, 4)
    expect([found?.limit, found?.unit, found?.tightAbove, found?.overAbove, found?.missing]).toEqual([reserve_h, 'h', 0.8, 1, []])
  })

  // 20·(60/(15·20))^1.15 = 20·0.2^1.15; 1.15·ln 0.2 = 1.15·(−1.609438) = −1.850854; e^−1.850854 = 0.157103; 20·0.157103 = 3.14206; half 1.57103 h.
  test('60 Ah, k 1.15, 15 A', () => {
    expect(of(camp(15, 1, { capacity_Ah: 60, peukert: 1.15 }))?.value).toBeCloseTo(1.57103, 4)
  })

  test('its figures, put into the formula', () => {
    const figures = of(camp(10, 3))?.figures
    expect(Object.keys(figures ?? {})).toEqual([
      'capacity at the 20 h rate, C, Ah',
      'current, I, A',
      'Peukert exponent, k',
      'hours to half its charge, h',
      'hours asked for, h',
    ])
    const [C, I, k, hours, asked] = Object.values(figures ?? {}) as [number, number, number, number, number]
    expect([C, k, asked]).toEqual([100, 1.2, 3])
    expect(I).toBeCloseTo(10, 6)
    expect(hours).toBeCloseTo(0.5 * 20 * (C / (I * 20)) ** k, 9)
  })

  test('what it says', () => {
    const found = of(camp(10, 6))
    expect(found?.says).toBe('bat reaches half its charge after 4.35 h against a reserve of 6 h (off).')
    expect(found?.remedy).toBe('Fit a larger battery, or leave some of it off with the engine off.')
  })

  describe('at and below the 20 h current', () => {
    // 100 Ah / 20 h = 5 A: 20 h to empty by both forms, 10 h to half, whatever k.
    test.each([
      [10, 'tight'],
      [10.01, 'over'],
    ] as const)('5 A for %s h', (reserve_h, verdict) => {
      const found = of(camp(5, reserve_h))
      expect(found?.verdict).toBe(verdict)
      expect(found?.value).toBeCloseTo(10, 6)
    })
    // 2 A: ½·100/2 = 25 h. Uncapped the law promises 10·(100/40)^1.2 = 10·2.5^1.2 = 30.03 h: more than half the label.
    test.each([
      [20, 'clear'],
      [20.1, 'tight'],
      [25, 'tight'],
      [25.1, 'over'],
    ] as const)('2 A for %s h', (reserve_h, verdict) => {
      const found = of(camp(2, reserve_h))
      expect(found?.verdict).toBe(verdict)
      expect(found?.value).toBeCloseTo(25, 6)
    })
  })

  // Ranges of k (one general page and memory): flooded 1.20–1.30, gel 1.10–1.20, AGM 1.05–1.15, LiFePO4 1.05; the upper end counts.
  // Half of 20·(1/2)^k: k 1.3 → 0.406126, 1.2 → 0.435275, 1.15 → 0.450625, 1.05 → 0.482968.
  test.each([
    ['flooded', 4.06126],
    ['Gel', 4.35275],
    ['AGM', 4.50625],
    ['LiFePO4', 4.82968],
    [undefined, 4.06126],
    ['something new', 4.06126],
  ])('chemistry %s, exponent not stated', (chemistry, hours) => {
    const found = of(camp(10, 1, { capacity_Ah: 100, ...(chemistry === undefined ? {} : { chemistry }) }))
    expect(found?.value).toBeCloseTo(hours, 4)
  })
  test('the exponent stated goes before the chemistry', () => {
    expect(of(camp(10, 1, { capacity_Ah: 100, peukert: 1.2, chemistry: 'LiFePO4' }))?.value).toBeCloseTo(4.35275, 4)
  })
  test('the evidence: that of the capacity, typical where the exponent is', () => {
    const graded = (more: Ratings) => {
      const document = camp(10, 1, more)
      const evidence = { capacity_Ah: 'marked' as const, peukert: 'datasheet' as const }
      return of({ ...document, parts: document.parts.map((part) => (part.key === 'bat' ? { ...part, evidence } : part)) })?.evidence
    }
    expect(graded({ capacity_Ah: 100, peukert: 1.2 })).toBe('marked')
    expect(graded({ capacity_Ah: 100 })).toBe('typical')
  })

  test('two batteries side by side: each gives its half, 10 A of 20 A', () => {
    const one = { nominal_V: 12, openCircuit_V: 12.6, internalResistance_ohm: 0.01, capacity_Ah: 100, peukert: 1.2 }
    const document = wiring({
      parts: { bat: ['battery', one], aux: ['battery', one], load: draws(20) },
      joins: ['bat:+ > aux:+', 'bat:- > aux:-', 'bat:+ > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    for (const key of ['bat', 'aux']) expect(of(asking(document, 4), key)?.value).toBeCloseTo(4.35275, 4)
  })

  test('the capacity not known: unknown, and named', () => {
    const found = of(camp(10, 3, { peukert: 1.2 }))
    expect([found?.verdict, found?.value, found?.limit, found?.missing, found?.evidence]).toEqual([
      'unknown',
      null,
      3,
      ['capacity'],
      'assumed',
    ])
    expect(found?.says).toBe('bat reaches half its charge after an unknown time: capacity not known.')
    expect(found?.figures).toMatchObject({ 'capacity at the 20 h rate, C, Ah': null, 'hours to half its charge, h': null })
  })

  describe('a load of unknown current', () => {
    const withUnknown = (current_A: number, reserve_h: number) =>
      asking(
        wiring({
          parts: {
            bat: ['battery', { nominal_V: 12, openCircuit_V: 12.6, internalResistance_ohm: 0.001, capacity_Ah: 100, peukert: 1.2 }],
            load: draws(current_A),
            lamp: ['load', { rated_V: 12 }],
          },
          joins: ['bat:+ > load:+', 'load:- > bat:-', 'bat:+ > lamp:+', 'lamp:- > bat:-'],
          conditions: [off],
        }),
        reserve_h,
      )
    test('beside one that leaves hours enough: it can only shorten them', () => {
      const found = of(withUnknown(10, 3))
      expect([found?.verdict, found?.missing]).toEqual(['unknown', ['current of lamp']])
      expect(found?.value).toBeCloseTo(4.35275, 4)
      expect(found?.says).toBe(
        'bat reaches half its charge after at most 4.35 h against a reserve of 3 h (off). Not known: current of lamp.',
      )
    })
    test('beside one that leaves too few without it', () => expect(of(withUnknown(10, 4.5))?.verdict).toBe('over'))
    test('alone', () => {
      const found = of(camp(null, 3))
      expect([found?.verdict, found?.value, found?.missing]).toEqual(['unknown', null, ['current of load']])
      expect(found?.says).toBe('bat reaches half its charge after an unknown time: current of load not known.')
    })
    test('behind a converter', () => {
      const document = wiring({
        parts: {
          bat: ['battery', { nominal_V: 12, openCircuit_V: 12.6, internalResistance_ohm: 0.001, capacity_Ah: 100 }],
          conv: ['converter', { output_V: 5, output_A: 10, efficiency: 0.9 }],
          lamp: ['load', { rated_V: 5 }],
        },
        joins: ['bat:+ > conv:in', 'conv:- > bat:-', 'conv:out > lamp:+', 'lamp:- > conv:-'],
        conditions: [off],
      })
      expect([of(asking(document, 3))?.verdict, of(asking(document, 3))?.missing]).toEqual(['unknown', ['current of lamp']])
    })
  })

  test('one that gives nothing lasts', () => {
    const found = of(camp(0, 6))
    expect(found).toMatchObject({ verdict: 'clear', value: null, limit: 6, unit: 'h', missing: [], evidence: 'datasheet' })
    expect(found?.says).toBe('bat gives nothing (off).')
  })
  test('nor does it need a capacity for that', () => expect(of(camp(0, 6, {}))?.verdict).toBe('clear'))
  // 1 mA from 100 Ah: ½·100/0.001 = 50 000 h. A clock's draw is a draw.
  test('a milliampere counts', () => expect(of(camp(0.001, 6))?.value).toBeCloseTo(50_000, 3))
  test('one that a charger holds up gives nothing', () => {
    const document = wiring({
      parts: {
        bat: ['battery', { nominal_V: 12, openCircuit_V: 12.6, internalResistance_ohm: 0.01, capacity_Ah: 100 }],
        sun: ['charger', { output_V: 13.8, output_A: 20 }],
        load: draws(5),
      },
      joins: ['sun:out > bat:+', 'sun:- > bat:-', 'bat:+ > load:+', 'load:- > bat:-'],
      conditions: [{ ...off, on: ['load', 'sun'] }],
    })
    expect(of(asking(document, 6))).toMatchObject({ verdict: 'clear', value: null })
  })

  test('no working point: unknown', () => {
    const document = wiring({
      parts: {
        bat: ['battery', { nominal_V: 12, openCircuit_V: 12, internalResistance_ohm: 0, capacity_Ah: 100 }],
        aux: battery(13, 0),
        load: draws(5),
      },
      joins: ['bat:+ > aux:+', 'aux:- > bat:-', 'bat:+ > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    const found = of(asking(document, 6))
    expect([found?.verdict, found?.value, found?.missing]).toEqual(['unknown', null, ['a working point in this condition']])
  })

  test('of two conditions with the engine off the shorter counts', () => {
    const both: readonly Condition[] = [
      { key: 'a', name: 'reading', engine: 'off', on: [] },
      { key: 'b', name: 'fridge on', engine: 'off' },
    ]
    expect(of(camp(10, 6, undefined, both))).toMatchObject({ verdict: 'over', condition: 'b' })
  })

  describe('nothing to judge', () => {
    test('no hours asked for', () => expect(of(camp(10, undefined))).toBeUndefined())
    test('with the engine running, idling or cranking', () => {
      for (const engine of ['running', 'idle', 'cranking'] as const)
        expect(of(camp(10, 6, undefined, [{ ...running, engine }]))).toBeUndefined()
    })
    // “Everything on” is no claim of the owner's to stand for hours.
    test('conditions that the check made itself', () => {
      expect(of(camp(10, 6, undefined, []))).toBeUndefined()
    })
  })
})
