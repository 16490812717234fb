/** What a fuse may have to break, against what it can: by hand and by a published row. */
import { describe, expect, test } from 'vitest'
import { BREAKING_A, COLD_LINK_share } from '../../../server/engine/tables/fuse-windows.ts'
import type { Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, type Parts, running, wiring } from '../solve/wiring.ts'
import { vehicle } from '../vehicle-builder.ts'
import { judged } from './judged.ts'

/** 10 mΩ at its rated current: a cold link has 0.6 of it (type C 40 A, 96 mV and 1.44 mΩ, read), 6 mΩ. */
const link = (ratings: Ratings = { form: 'C' }, resistance_ohm = 0.01): Parts[string] => [
  'fuse',
  { rated_A: 10, rated_V: 32, resistance_ohm, ...ratings },
]
/** batteries → fuse → load */
const at = (source: Parts[string], device: Parts[string]) =>
  wiring({
    parts: { bat: source, f: device, load: draws(1) },
    joins: ['bat:+ > f:in', 'f:out > load:+', 'load:- > bat:-'],
    conditions: [off],
  })
const judge = (document: VehicleDocument, device = 'f') => judged(document, 'fuse-breaking', device)

test('the share of a cold link: 1.44 mΩ of 96 mV / 40 A', () => {
  expect(COLD_LINK_share).toBeCloseTo(1.44 / (96 / 40), 12)
})

// Two batteries of 500 A cold-cranking make the 651 to 1100 A band, whose main has to break 3000 A (ABYC E-11 Table V.A as reprinted, read).
test('two 500 A batteries: 3000 A, too much for a blade', () => {
  const cranked: Parts[string] = ['battery', { nominal_V: 12, openCircuit_V: 12.6, coldCranking_A: 500, coldCrankingTest: 'SAE' }]
  const document = (device: Parts[string]) =>
    wiring({
      parts: { bat: cranked, second: cranked, f: device, load: draws(1) },
      joins: ['bat:+ > f:in', 'second:+ > f:in', 'second:- > bat:-', 'f:out > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
  // Half of (12.6 − 7.2)/500 = 10.8 mΩ, two side by side: 2.7 mΩ; a 40 A link cold 0.6 · 2.5 mΩ = 1.5 mΩ: 12.6/0.0042.
  const blade = judge(document(['fuse', { form: 'C', rated_A: 40, rated_V: 32 }]))
  expect(blade).toMatchObject({ verdict: 'over', limit: 1000, unit: 'A', missing: [] })
  expect(blade?.value).toBeCloseTo(3000, 6)
  expect(judge(document(['fuse', { form: 'C', rated_A: 40, rated_V: 32, breaking_A: 3001 }]))?.verdict).toBe('tight')
})

describe('1000 A of a blade (ISO 8820-3, read)', () => {
  test.each([
    ['12/(9 + 6 mΩ) = 800 A: 80 %', 0.009, 'clear', 800],
    ['12/(8.9 + 6 mΩ)', 0.0089, 'tight', 12 / 0.0149],
    ['12/(6 + 6 mΩ) = 1000 A: at the limit', 0.006, 'tight', 1000],
    ['12/(5.9 + 6 mΩ)', 0.0059, 'over', 12 / 0.0119],
  ])('%s', (_, battery_ohm, verdict, value) => {
    const found = judge(at(battery(12, battery_ohm), link()))
    expect(found).toMatchObject({ verdict, limit: 1000, unit: 'A', tightAbove: 0.8, missing: [], evidence: 'typical' })
    expect(found?.value).toBeCloseTo(value, 6)
  })
  test('the figures by hand', () => {
    const found = judge(at(battery(12, 0.009), link()))
    expect(found?.names).toEqual(['short just past it', 'main device ahead', 'what counts', 'breaking capacity'])
    expect(found?.units).toEqual(['A', '', 'A', 'A'])
    expect(found?.number('short just past it')).toBeCloseTo(800, 6)
    expect(found?.figure('main device ahead')).toBe('none that can break its own')
    expect(found?.number('what counts')).toBeCloseTo(800, 6)
    expect(found?.figure('breaking capacity')).toBe(1000)
    expect(found?.says).toBe('f may have to break 800 A of its 1000 A breaking capacity.')
  })
})

// Scope clauses of ISO 8820-3 to -6 (read); class T 20 kA (memory).
test('by form', () => {
  expect(BREAKING_A).toEqual({ C: 1000, E: 1000, F: 1000, A1: 1000, SF30: 2000, SF51: 2000, 'single-bolt': 2000, 'class-T': 20000 })
  const limit = (ratings: Ratings) => judge(at(battery(12, 0.009), link(ratings)))?.limit
  expect(limit({ form: 'SF30' })).toBe(2000)
  expect(limit({ form: 'class-T' })).toBe(20000)
  expect(limit({ form: 'C', breaking_A: 1500 })).toBe(1500)
})

describe('the battery', () => {
  const cranked: Ratings = { nominal_V: 12, openCircuit_V: 12.6, coldCranking_A: 600, coldCrankingTest: 'SAE' }
  test('half the −18 °C resistance, a stated one as it is', () => {
    // 9 mΩ at −18 °C (S01, read): 12.6/(4.5 + 6 mΩ) = 1200 A; stated 12.6/(9 + 6 mΩ) = 840 A.
    expect(judge(at(['battery', cranked], link()))?.value).toBeCloseTo(1200, 6)
    expect(judge(at(['battery', { ...cranked, internalResistance_ohm: 0.009 }], link()))?.value).toBeCloseTo(840, 6)
  })
  test('conductors cold: 10 mΩ at 20 °C', () => {
    const document = wiring({
      parts: {
        bat: battery(12, 0.004),
        w: ['conductor', { resistance20_ohmPerM: 0.01, insulation_degC: 105 }, { length_m: 1, zone: 'z' }],
        f: link(),
        load: draws(1),
      },
      joins: ['bat:+ > w:a', 'w:b > f:in', 'f:out > load:+', 'load:- > bat:-'],
      conditions: [off],
      ambient_degC: 60,
    })
    expect(judge(document)?.value).toBeCloseTo(12 / 0.02, 6)
  })
  test('at the highest set-point, where that can stand at this battery', () => {
    const charged = (more: Parts, emf_V = 12) =>
      judge(
        wiring({
          parts: { bat: battery(emf_V, 0.009), f: link(), load: draws(1), ...more },
          joins: [
            'bat:+ > f:in',
            'f:out > load:+',
            'load:- > bat:-',
            ...Object.keys(more).flatMap((key) => [`${key}:${key === 'alt' ? '+' : 'out'} > bat:+`, `${key}:- > bat:-`]),
          ],
          conditions: [running],
        }),
      )?.value as number
    const alternator = (setPoint_V: number): Parts => ({ alt: ['alternator', { setPoint_V, output_A: 60 }] })
    expect(charged(alternator(14.4))).toBeCloseTo(14.4 / 0.015, 6)
    expect(charged(alternator(11))).toBeCloseTo(12 / 0.015, 6)
    expect(charged(alternator(16.2))).toBeCloseTo(16.2 / 0.015, 6)
    // More than 1.35 times its own voltage belongs to another system.
    expect(charged(alternator(16.3))).toBeCloseTo(12 / 0.015, 6)
    expect(
      charged({ alt: ['alternator', { setPoint_V: 14, output_A: 60 }], chg: ['charger', { output_V: 14.7, output_A: 10 }] }),
    ).toBeCloseTo(14.7 / 0.015, 6)
    expect(
      charged({ alt: ['alternator', { setPoint_V: 15, output_A: 60 }], chg: ['charger', { output_V: 14.7, output_A: 10 }] }),
    ).toBeCloseTo(15 / 0.015, 6)
  })
  test('batteries at both ends of the link: the larger of the two shorts', () => {
    const between = (one_ohm: number, other_ohm: number) =>
      judge(
        wiring({
          parts: { bat: battery(12, one_ohm), aux: battery(12, other_ohm), f: link(), load: draws(1) },
          joins: ['bat:+ > f:in', 'f:out > aux:+', 'aux:- > bat:-', 'f:out > load:+', 'load:- > bat:-'],
          conditions: [off],
        }),
      )?.value as number
    // 12/(2 + 6 mΩ) = 1500 A from the better one, 12/(10 + 6 mΩ) = 750 A from the other.
    expect(between(0.01, 0.002)).toBeCloseTo(1500, 6)
    expect(between(0.002, 0.01)).toBeCloseTo(1500, 6)
  })
  test('a link of no resistance: all that the short draws', () => {
    expect(judge(at(battery(12, 0.02), link({ form: 'C' }, 0)))?.value).toBeCloseTo(600, 6)
  })
})

describe('what is not known', () => {
  const unrated: Parts[string] = ['battery', { nominal_V: 12, openCircuit_V: 12 }]
  test('what it can break', () => {
    for (const device of [link({}), link({ form: 'glass' }), ['breaker', { rated_A: 10, rated_V: 32, resistance_ohm: 0.01 }] as const]) {
      const found = judge(at(battery(12, 0.02), device))
      expect(found).toMatchObject({ verdict: 'unknown', limit: null, missing: ['breaking capacity'], evidence: 'assumed' })
      expect(found?.figure('breaking capacity')).toBeNull()
    }
  })
  test('the battery: no short is too large then, and enough is enough', () => {
    // Behind 10 µΩ: 12/(0.01 + 6 mΩ) = 1996.7 A.
    expect(judge(at(unrated, link()))).toMatchObject({ verdict: 'unknown', missing: ['internal resistance of bat'] })
    // 10 µΩ only stand for what is not known: no figure to show.
    expect(judge(at(unrated, link()))?.value).toBeNull()
    expect(judge(at(unrated, link({ form: 'C', breaking_A: 1997 })))).toMatchObject({ verdict: 'tight', missing: [] })
    expect(judge(at(unrated, link({ form: 'C', breaking_A: 1996 })))).toMatchObject({
      verdict: 'unknown',
      missing: ['internal resistance of bat'],
    })
    expect(judge(at(unrated, link({ form: 'class-T' })))).toMatchObject({ verdict: 'clear', missing: [] })
    expect(judge(at(unrated, link({})))?.missing).toEqual(['breaking capacity', 'internal resistance of bat'])
    // Exactly as much as the most it can be is enough.
    const most_A = judge(at(unrated, link({ form: 'class-T' })))?.value as number
    expect(judge(at(unrated, link({ breaking_A: most_A })))).toMatchObject({ verdict: 'tight', used: 1, missing: [] })
  })
})

describe('behind a main device', () => {
  /** battery → main of 5 mΩ (cold 3 mΩ) → f */
  const behind = (source: Parts[string], main: Ratings, own: Ratings = { form: 'C' }) =>
    wiring({
      parts: { bat: source, main: link({ rated_A: 100, ...main }, 0.005), f: link(own), load: draws(1) },
      joins: ['bat:+ > main:in', 'main:out > f:in', 'f:out > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
  test('one that can break its own: half counts', () => {
    // Main: 12/(1 + 3 mΩ) = 3000 A of 20 kA; f: 12/(1 + 3 + 6 mΩ) = 1200 A, of which 600.
    const found = judge(behind(battery(12, 0.001), { form: 'class-T' }))
    expect(found).toMatchObject({ verdict: 'clear', limit: 1000 })
    expect(found?.value).toBeCloseTo(600, 6)
    expect(found?.number('short just past it')).toBeCloseTo(1200, 6)
    expect(found?.figure('main device ahead')).toBe('main')
    expect(found?.number('what counts')).toBeCloseTo(600, 6)
    expect(found?.says).toBe('f, behind main, may have to break 600 A of its 1000 A breaking capacity.')
    expect(judge(behind(battery(12, 0.001), { form: 'class-T' }), 'main')?.value).toBeCloseTo(3000, 6)
  })
  test('one that cannot, or of unknown capacity: all counts', () => {
    for (const main of [{ form: 'SF30' }, { form: 'glass' }, {}, { breaking_A: 2999 }]) {
      const found = judge(behind(battery(12, 0.001), main))
      expect(found?.verdict).toBe('over')
      expect(found?.value).toBeCloseTo(1200, 6)
      expect(found?.figure('main device ahead')).toBe('none that can break its own')
    }
    expect(judge(behind(battery(12, 0.001), { breaking_A: 3001 }))?.value).toBeCloseTo(600, 6)
    // Exactly what it meets it can break.
    const own_A = judge(behind(battery(12, 0.001), {}), 'main')?.value as number
    expect(judge(behind(battery(12, 0.001), { breaking_A: own_A }))?.value).toBeCloseTo(600, 6)
  })
  test('what the main meets is not known: all counts', () => {
    const found = judge(behind(['battery', { nominal_V: 12, openCircuit_V: 12 }], { form: 'class-T' }))
    expect(found).toMatchObject({ verdict: 'unknown', value: null, missing: ['internal resistance of bat'] })
  })
  test('of two batteries each needs one', () => {
    const two = (second: boolean) =>
      wiring({
        parts: {
          bat: battery(12, 0.009),
          aux: battery(12, 0.009),
          main: link({ rated_A: 100, form: 'class-T' }, 0.005),
          ...(second ? { other: link({ rated_A: 100, form: 'class-T' }, 0.005) } : {}),
          f: link(),
          load: draws(1),
        },
        joins: [
          'bat:+ > main:in',
          'main:out > f:in',
          ...(second ? ['aux:+ > other:in', 'other:out > f:in'] : ['aux:+ > f:in']),
          'aux:- > bat:-',
          'f:out > load:+',
          'load:- > bat:-',
        ],
        conditions: [off],
      })
    // 12 mΩ ∥ 12 mΩ = 6 mΩ, with 6 mΩ of the link 1000 A, of which 500.
    expect(judge(two(true))?.value).toBeCloseTo(500, 6)
    // 12 mΩ ∥ 9 mΩ = 5.142857 mΩ: 12/11.142857 mΩ = 1076.9 A.
    expect(judge(two(false))?.value).toBeCloseTo(12 / (0.108 / 21 + 0.006), 6)
    expect(judge(two(false))?.verdict).toBe('over')
  })
})

describe('nothing to judge', () => {
  test('a fuse in a return, and one that no battery feeds', () => {
    const back = wiring({
      parts: { bat: battery(12, 0.009), f: link(), load: draws(1) },
      joins: ['bat:+ > load:+', 'load:- > f:in', 'f:out > bat:-'],
      conditions: [off],
    })
    expect(judge(back)).toBeUndefined()
    const charged = wiring({
      parts: { alt: ['alternator', { setPoint_V: 14.4, output_A: 60 }], f: link(), load: draws(1) },
      joins: ['alt:+ > f:in', 'f:out > load:+', 'load:- > alt:-'],
      conditions: [running],
    })
    expect(judge(charged)).toBeUndefined()
  })
})

test('evidence: resistances are never better than typical; a capacity only assumed shows', () => {
  const fuse = { rated_A: 20, rated_V: 32, resistance_ohm: 0.001, breaking_A: 20000 }
  const document = vehicle({ fuse })
  expect(judged(document, 'fuse-breaking', 'f1')).toMatchObject({ verdict: 'clear', evidence: 'typical' })
  const parts = document.parts.map((part) => (part.key === 'fuse' ? { ...part, evidence: {} } : part))
  expect(judged({ ...document, parts }, 'fuse-breaking', 'f1')).toMatchObject({ evidence: 'assumed' })
})
