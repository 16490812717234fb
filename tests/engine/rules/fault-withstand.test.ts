/** What a short puts into a conductor until its device opens, against what it stands: worked by hand. Long because it is one list of circuits. */
import { describe, expect, test } from 'vitest'
import { ALUMINIUM, adiabatic_k, COPPER, finalTemperature_degC } from '../../../server/engine/tables/adiabatic-constants.ts'
import type { Component, Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, type Parts, wiring } from '../solve/wiring.ts'
import { vehicle } from '../vehicle-builder.ts'
import { judged } from './judged.ts'

// k between two temperatures, as IEC 60364-5-54 and BS 7671 print it (read, rounded there to a whole number).
test.each([
  [70, 160, 115, 76],
  [90, 160, 100, 66],
  [60, 200, 141, 93],
  [85, 220, 134, 89],
])('k from %d to %d °C: copper %d, aluminium %d', (initial_degC, final_degC, copper, aluminium) => {
  expect(Math.abs(adiabatic_k({ material: COPPER, initial_degC, final_degC }) - copper)).toBeLessThan(1)
  expect(Math.abs(adiabatic_k({ material: ALUMINIUM, initial_degC, final_degC }) - aluminium)).toBeLessThan(1)
})

test('a conductor that starts at its final temperature stands nothing', () => {
  expect(adiabatic_k({ material: COPPER, initial_degC: 160, final_degC: 160 })).toBe(0)
  expect(adiabatic_k({ material: COPPER, initial_degC: 170, final_degC: 160 })).toBe(0)
})

// IEC 60364-4-43, as reproduced (read): PVC 160, above 300 mm² 140; XLPE and EPR 250. Silicone 350 (read).
test.each([
  [null, 4, 160],
  ['PVC', 300, 160],
  ['PVC', 301, 140],
  ['thin-wall XLPE', 4, 250],
  ['epr', 400, 250],
  ['Silicone rubber', 4, 350],
])('%s of %d mm² ends at %d °C', (insulation, crossSection_mm2, final_degC) => {
  expect(finalTemperature_degC(insulation, crossSection_mm2)).toBe(final_degC)
})

/** k²: Qc·(β + 20)/ρ20·ln((β + θf)/(β + θi)), constants of IEC 60364-4-43 (read). */
const copper_k2 = (from_degC: number, to_degC: number) =>
  ((3.45e-3 * (234.5 + 20)) / 17.241e-6) * Math.log((234.5 + to_degC) / (234.5 + from_degC))
const aluminium_k2 = (from_degC: number, to_degC: number) =>
  ((2.5e-3 * (228 + 20)) / 28.264e-6) * Math.log((228 + to_degC) / (228 + from_degC))

const alpha: Readonly<Record<string, number>> = {
  copper: 0.00393,
  'tinned-copper': 0.00393,
  aluminium: 0.00403,
  'cca-10': 0.004,
  'cca-15': 0.004,
}
/** A conductor that has so much resistance in a short, whatever its cross-section. */
const hot = (ohm: number, ratings: Ratings, more: Partial<Component> = {}): Parts[string] => {
  const degC = typeof ratings.insulation_degC === 'number' ? ratings.insulation_degC : 105
  const factor = 1 + (alpha[String(ratings.material ?? 'copper')] as number) * (degC - 20)
  return ['conductor', { resistance20_ohmPerM: (ohm * (more.parallel ?? 1)) / factor, ...ratings }, { length_m: 1, ...more }]
}
const typeC = (rated_A: number, resistance_ohm = 0): Parts[string] => ['fuse', { form: 'C', rated_A, rated_V: 32, resistance_ohm }]
/** battery 12 V behind 10 mΩ → type C → run → load → battery; so much current in a short at the end of the run, at its start 12 V/10 mΩ = 1200 A. */
const shortOf = (current_A: number, ratings: Ratings, given: { readonly rated_A?: number; readonly more?: Partial<Component> } = {}) =>
  wiring({
    parts: {
      bat: battery(12, 0.01),
      f: typeC(given.rated_A ?? 10),
      run: hot(12 / current_A - 0.01, ratings, given.more),
      load: draws(1),
    },
    joins: ['bat:+ > f:in', 'f:out > run:a', 'run:b > load:+', 'load:- > bat:-'],
    conditions: [off],
  })
const judge = (document: VehicleDocument, conductor = 'run') => judged(document, 'fault-withstand', conductor)
const pvc = (crossSection_mm2: number): Ratings => ({ crossSection_mm2, insulation_degC: 105, insulation: 'PVC' })

/** The same with a lead before the run: so much in a short at the end of the run, and at its start. */
const shortsOf = (far_A: number, near_A: number, fuse: Ratings) =>
  wiring({
    parts: {
      bat: battery(12, 0.01),
      f: ['fuse', { rated_V: 32, resistance_ohm: 0, ...fuse }],
      lead: hot(12 / near_A - 0.01, pvc(10)),
      run: hot(12 / far_A - 12 / near_A, pvc(10)),
      load: draws(1),
    },
    joins: ['bat:+ > f:in', 'f:out > lead:a', 'lead:b > run:a', 'run:b > load:+', 'load:- > bat:-'],
    conditions: [off],
  })

// Shorts of 20 to 1200 A through a type C of 10 A (read): just under 350 % 35²·5 = 6125 A²s, just under 600 % 60²·0.5 = 1800, from there on
// 60²·0.1 = 360. k from 105 to 160 °C is 87.44, k² 7646.
describe('6125 A²s', () => {
  const area = (withstand_A2s: number) => Math.sqrt(withstand_A2s / copper_k2(105, 160))
  test.each([
    ['of 9000', 9000, 'clear'],
    ['of 7657: 79.99 %', 7657, 'clear'],
    ['of 7656: 80.003 %', 7656, 'tight'],
    ['of 6125: at the limit', 6125, 'tight'],
    ['of 6124', 6124, 'over'],
  ])('%s', (_, withstand_A2s, verdict) => {
    const found = judge(shortOf(20, pvc(area(withstand_A2s))))
    expect(found).toMatchObject({ verdict, unit: 'A²s', missing: [], tightAbove: 0.8, overAbove: 1 })
    expect(found?.value).toBeCloseTo(6125, 6)
    expect(found?.limit).toBeCloseTo(withstand_A2s, 6)
  })
  test('the figures by hand, in the formula’s order', () => {
    const found = judge(shortOf(20, pvc(1)))
    expect(found?.names).toEqual([
      'short at the far end, through the device',
      'short at the near end, through the device',
      'most is let through at',
      'of its rating',
      'longest time up to there',
      'let through in one conductor',
      'cross-section, S',
      'start temperature, Tr',
      'final temperature, θf',
      'adiabatic factor, k',
    ])
    expect(found?.units).toEqual(['A', 'A', 'A', '%', 's', 'A²s', 'mm²', '°C', '°C', 'A·√s/mm²'])
    expect(found?.number('short at the far end, through the device')).toBeCloseTo(20, 9)
    expect(found?.number('short at the near end, through the device')).toBeCloseTo(1200, 6)
    expect(found?.number('most is let through at')).toBeCloseTo(35, 9)
    expect(found?.number('of its rating')).toBeCloseTo(350, 9)
    expect(found?.number('longest time up to there')).toBe(5)
    expect(found?.number('let through in one conductor')).toBeCloseTo(6125, 6)
    expect(found?.number('cross-section, S')).toBe(1)
    expect(found?.number('start temperature, Tr')).toBe(105)
    expect(found?.number('final temperature, θf')).toBe(160)
    expect(found?.number('adiabatic factor, k')).toBeCloseTo(87.44, 2)
    expect(found?.limit).toBeCloseTo((found?.number('adiabatic factor, k') ?? 0) ** 2 * 1 ** 2, 9)
    expect(found?.says).toBe('A short along run puts into it, until f opens, up to 6125 A²s of its 7646 A²s withstand.')
  })
})

test('k 115 of PVC from 70 °C (IEC 60364-5-54, read): 1 mm² stands about 115² A²s', () => {
  const found = judge(shortOf(20, { crossSection_mm2: 1, insulation_degC: 70, insulation: 'PVC' }))
  expect(Math.abs((found?.number('adiabatic factor, k') ?? 0) - 115)).toBeLessThan(1)
  expect(found?.limit).toBeCloseTo(copper_k2(70, 160), 6)
})

describe('how much is let through', () => {
  // Type C, E and SF of 10 A: 200 % 5, 50 and 15 s, 350 % 0.5, 7 and 5 s, 600 % 0.1, 1 and 1 s.
  test.each([
    ['200 % up to 300 %: the near end’s, 30²·5', 20, 30, 'C', 10, 4500],
    ['20 to 34.9 A, just short of the next row: 34.9²·5', 20, 34.9, 'C', 10, 6090.05],
    ['past 350 %: just under it, 35²·5, not 36²·0.5', 20, 36, 'C', 10, 6125],
    ['350 % up to 400 %: 40²·0.5', 35, 40, 'C', 10, 800],
    ['350 % past 600 %: just under it, 60²·0.5', 35, 700, 'C', 10, 1800],
    ['59.9 A past 600 %: 60²·0.5', 59.9, 120, 'C', 10, 1800],
    ['from 600 % on: 60²·0.1', 60, 120, 'C', 10, 360],
    ['all above it: no more', 120, 600, 'C', 10, 360],
    ['of 40 A, 200 % past 350 %: 140²·5', 100, 200, 'C', 40, 98000],
    ['of 40 A, 350 % past 600 %: 240²·0.5', 200, 1000, 'C', 40, 28800],
    ['of 40 A, 0.15 s: 240²·0.15', 400, 1000, 'C', 40, 8640],
    ['type E past 600 %: 60²·1', 60, 200, 'E', 10, 3600],
    ['bolted strip, 350 % past 600 %: 60²·5', 36, 200, 'SF30', 10, 18000],
  ])('%s', (_, far_A, near_A, form, rated_A, let_A2s) => {
    expect(judge(shortsOf(far_A, near_A, { form, rated_A }))?.value).toBeCloseTo(let_A2s, 5)
  })
  test('the far end returns by the way that gives least, the near end by the one that gives most', () => {
    // Lead 0.1, run 0.1, own return of the load 0.4 Ω, with 10 mΩ of the battery: far 12/0.61 = 19.7 A by the return, of a type C of 5 A 393 %.
    // Near, by the chassis: 12/0.11 = 109 A; in the 350 % row up to 30 A: 30²·0.5. By the return it would be 12/0.51 = 23.5 A, 23.5²·0.5 = 277.
    const document = wiring({
      parts: {
        bat: battery(12, 0.01),
        f: typeC(5),
        lead: hot(0.1, pvc(1)),
        run: hot(0.1, pvc(1)),
        load: draws(1),
        back: hot(0.4, pvc(1)),
        body: ['chassis', {}],
      },
      joins: ['bat:+ > f:in', 'f:out > lead:a', 'lead:b > run:a', 'run:b > load:+', 'load:- > back:a', 'back:b > body:1', 'body:2 > bat:-'],
      conditions: [off],
    })
    const found = judge(document)
    expect(found?.number('short at the far end, through the device')).toBeCloseTo(12 / 0.61, 6)
    expect(found?.number('short at the near end, through the device')).toBeCloseTo(12 / 0.11, 6)
    expect(found?.value).toBeCloseTo(450, 6)
  })
  test('in a ring, where a short at the near end draws less: no less than at the far end', () => {
    // 10 mΩ; to the run's far end 0.09 Ω beside 0.39 + 0.1: 12/(0.01 + 0.09·0.49/0.58) = 139.5 A, below 350 % of 40 A.
    // To its near end 0.39 beside 0.09 + 0.1: 12/(0.01 + 0.39·0.19/0.58) = 87.1 A.
    const document = wiring({
      parts: {
        bat: battery(12, 0.01),
        f: typeC(40),
        short: hot(0.09, pvc(10)),
        long: hot(0.39, pvc(10)),
        run: hot(0.1, pvc(10)),
        load: draws(1),
      },
      joins: ['bat:+ > f:in', 'f:out > short:a', 'f:out > long:a', 'long:b > run:a', 'short:b > run:b', 'run:b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    const far_A = 12 / (0.01 + (0.09 * 0.49) / 0.58)
    expect(far_A).toBeCloseTo(139.48, 2)
    const found = judge(document)
    expect(found?.number('short at the far end, through the device')).toBeCloseTo(far_A, 6)
    expect(found?.number('short at the near end, through the device')).toBeCloseTo(far_A, 6)
    expect(found?.number('most is let through at')).toBeCloseTo(far_A, 6)
  })
  // Type C of 10 A; 15 m of copper, 58 MS/m, hot 1.33405 (105 °C): 1.33405·15/(58·S) Ω, of 0.6, 1 and 1.5 mm² 575, 345 and 230 mΩ;
  // with 10 mΩ of the battery 20.5, 33.8 and 50.0 A. At the start 1200 A: 35²·5 = 6125 A²s and, from 350 % on, 60²·0.5 = 1800.
  // k²S², k² 7646: 2753, 7646 and 17 204 A²s.
  test.each([
    [0.6, 6125, 'over'],
    [1, 6125, 'tight'],
    [1.5, 1800, 'clear'],
  ])('one wire of 15 m and %d mm² is judged as the same wire of 12 m and 3 m', (crossSection_mm2, let_A2s, verdict) => {
    const metres = (length_m: number): Parts[string] => ['conductor', { material: 'copper', ...pvc(crossSection_mm2) }, { length_m }]
    const ends = { bat: battery(12, 0.01), f: typeC(10), load: draws(1) }
    const whole = wiring({
      parts: { ...ends, run: metres(15) },
      joins: ['bat:+ > f:in', 'f:out > run:a', 'run:b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    const cut = wiring({
      parts: { ...ends, run: metres(12), rest: metres(3) },
      joins: ['bat:+ > f:in', 'f:out > run:a', 'run:b > rest:a', 'rest:b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    expect(judge(whole)).toMatchObject({ verdict })
    expect(judge(whole)?.value).toBeCloseTo(let_A2s, 6)
    const [run, rest] = [judge(cut), judge(cut, 'rest')]
    expect(Math.max(run?.value as number, rest?.value as number)).toBeCloseTo(let_A2s, 6)
    expect([run?.verdict, rest?.verdict]).toContain(verdict)
  })
  test('two conductors side by side take half of it each: a quarter of the heat', () => {
    const found = judge(shortOf(20, pvc(1), { more: { parallel: 2 } }))
    expect(found?.value).toBeCloseTo(6125 / 4, 6)
    expect(found?.number('let through in one conductor')).toBeCloseTo(6125 / 4, 6)
    expect(found?.number('short at the far end, through the device')).toBeCloseTo(20, 9)
    expect(found?.limit).toBeCloseTo(copper_k2(105, 160), 6)
  })
  test('a conductor beside another of twice its resistance takes two thirds, as in a short at their end', () => {
    // 0.87 ∥ 1.74 Ω = 0.58 Ω, with 10 mΩ of the battery and of the lead 0.6 Ω: 20 A, 13.33 A of it through `run`; 35²·5 through the link.
    const document = wiring({
      parts: {
        bat: battery(12, 0.01),
        f: typeC(10),
        lead: hot(0.01, pvc(1)),
        run: hot(0.87, pvc(1)),
        other: hot(1.74, pvc(1)),
        load: draws(1),
      },
      joins: [
        'bat:+ > f:in',
        'f:out > lead:a',
        'lead:b > run:a',
        'lead:b > other:a',
        'run:b > load:+',
        'other:b > load:+',
        'load:- > bat:-',
      ],
      conditions: [off],
    })
    expect(judge(document)?.value).toBeCloseTo(6125 * (2 / 3) ** 2, 6)
    expect(judge(document, 'other')?.value).toBeCloseTo(6125 / 9, 6)
  })
  test('behind two links side by side it takes what passes both', () => {
    // 12/(0.01 + 0.01 + 0.28) = 40 A, 20 A in each link of 10 A: 5 s. Near end 12/0.02 = 600 A, 300 A in each; just under 350 % of both the run takes 70²·5.
    const document = wiring({
      parts: { bat: battery(12, 0.01), f: typeC(10, 0.02), g: typeC(10, 0.02), run: hot(0.28, pvc(1)), load: draws(1) },
      joins: ['bat:+ > f:in', 'bat:+ > g:in', 'f:out > run:a', 'g:out > run:a', 'run:b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    expect(judge(document)?.number('short at the far end, through the device')).toBeCloseTo(20, 9)
    expect(judge(document)?.number('short at the near end, through the device')).toBeCloseTo(300, 6)
    expect(judge(document)?.value).toBeCloseTo(24500, 6)
  })
})

describe('what the conductor stands', () => {
  const limit = (ratings: Ratings) => judge(shortOf(20, { crossSection_mm2: 2, insulation_degC: 105, ...ratings }))?.limit
  test.each([
    ['copper, kind not stated: as PVC', {}, 4 * copper_k2(105, 160)],
    ['tinned copper', { material: 'tinned-copper' }, 4 * copper_k2(105, 160)],
    ['XLPE', { insulation: 'XLPE' }, 4 * copper_k2(105, 250)],
    ['silicone', { insulation: 'silicone' }, 4 * copper_k2(105, 350)],
    ['aluminium', { material: 'aluminium' }, 4 * aluminium_k2(105, 160)],
    ['10 % clad', { material: 'cca-10' }, 4 * aluminium_k2(105, 160)],
    ['15 % clad', { material: 'cca-15' }, 4 * aluminium_k2(105, 160)],
    ['above 300 mm²', { crossSection_mm2: 400 }, 400 ** 2 * copper_k2(105, 140)],
    ['80 °C', { insulation_degC: 80 }, 4 * copper_k2(80, 160)],
  ])('%s', (_, ratings, withstand_A2s) => {
    expect(limit(ratings) as number).toBeCloseTo(withstand_A2s, 4)
  })
})

describe('what is not known', () => {
  test('the cross-section', () => {
    const found = judge(shortOf(20, { insulation_degC: 105 }))
    expect(found).toMatchObject({ verdict: 'unknown', limit: null, missing: ['cross-section'] })
    expect(found?.value).toBeCloseTo(6125, 6)
    expect(found?.figure('cross-section, S')).toBeNull()
  })
  test('the insulation’s rating', () => {
    const found = judge(shortOf(20, { crossSection_mm2: 4 }))
    expect(found).toMatchObject({ verdict: 'unknown', limit: null, missing: ['insulation temperature rating'] })
    expect(found?.figure('adiabatic factor, k')).toBeNull()
  })
  test('an insulation that is rated as hot in use as its kind is taken to stand: no verdict on it', () => {
    const named = ['what its insulation stands in a short']
    expect(judge(shortOf(20, { crossSection_mm2: 4, insulation_degC: 160 }))).toMatchObject({ verdict: 'unknown', missing: named })
    expect(judge(shortOf(20, { crossSection_mm2: 4, insulation_degC: 200, insulation: 'PTFE' }))).toMatchObject({
      verdict: 'unknown',
      missing: named,
    })
    expect(judge(shortOf(20, { crossSection_mm2: 8, insulation_degC: 159 }))).toMatchObject({ verdict: 'clear', missing: [] })
    expect(judge(shortOf(20, { crossSection_mm2: 4, insulation_degC: 200, insulation: 'silicone' }))).toMatchObject({
      verdict: 'clear',
      missing: [],
    })
  })
  test('its own length: all of the most that the short can draw counts', () => {
    // Its ends stand together: 20 A at both, 20²·5.
    const document = wiring({
      parts: {
        bat: battery(12, 0.01),
        f: typeC(10),
        lead: hot(0.59, pvc(4)),
        run: ['conductor', { material: 'copper', ...pvc(4) }],
        load: draws(1),
      },
      joins: ['bat:+ > f:in', 'f:out > lead:a', 'lead:b > run:a', 'run:b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    const found = judge(document)
    expect(found).toMatchObject({ verdict: 'unknown', missing: ['resistance of run'] })
    expect(found?.value).toBeCloseTo(2000, 6)
  })
  test('the battery’s resistance', () => {
    const document = wiring({
      parts: {
        bat: ['battery', { nominal_V: 12, openCircuit_V: 12 }],
        f: typeC(10),
        run: hot(0.6, pvc(4)),
        load: draws(1),
      },
      joins: ['bat:+ > f:in', 'f:out > run:a', 'run:b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    // 12/0.60001 A is a hair below 200 %: 50 s, not judged; at 0.5 Ω 24 A.
    expect(judge(document)).toBeUndefined()
    const shorter = { ...document, components: document.components.map((one) => (one.key === 'run' ? { ...one, length_m: 0.8 } : one)) }
    expect(judge(shorter)).toMatchObject({ verdict: 'unknown', missing: ['internal resistance of bat'] })
  })
})

describe('evidence', () => {
  // 4 mm² of 105 °C behind a type C of 20 A: at most (6·20)²·0.1 = 1440 A²s.
  const wire = { material: 'copper', crossSection_mm2: 4, insulation_degC: 105 }
  test('windows are typical, whatever the conductor’s sheet says', () => {
    const found = judged(vehicle({}), 'fault-withstand', 'w1')
    expect(found).toMatchObject({ verdict: 'clear', evidence: 'typical' })
    expect(found?.value).toBeCloseTo(1440, 6)
    expect(found?.limit).toBeCloseTo(16 * copper_k2(105, 160), 6)
  })
  test.each(['crossSection_mm2', 'insulation_degC'])('%s that is only assumed shows', (name) => {
    const document = vehicle({ wire })
    const parts = document.parts.map((part) =>
      part.key === 'wire'
        ? {
            ...part,
            evidence: { crossSection_mm2: 'datasheet' as const, insulation_degC: 'datasheet' as const, [name]: 'assumed' as const },
          }
        : part,
    )
    expect(judged({ ...document, parts }, 'fault-withstand', 'w1')?.evidence).toBe('assumed')
  })
})

describe('of two batteries the worse counts', () => {
  const two = (aux: Parts[string], second: Parts[string], area: number) =>
    wiring({
      parts: { bat: battery(12, 0.01), aux, f: typeC(10), g: second, run: hot(0.59, pvc(area)), load: draws(1) },
      joins: ['bat:+ > f:in', 'f:out > run:a', 'aux:+ > g:in', 'g:out > run:a', 'aux:- > bat:-', 'run:b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
  const k2 = copper_k2(105, 160)
  test('20 to 1200 A from either: of 10 A 35²·5, of 5 A from 400 % on 30²·0.5', () => {
    expect(judge(two(battery(12, 0.01), typeC(5), 1))?.value).toBeCloseTo(6125, 6)
  })
  test('the second is worse', () => {
    // 24 V: 40 A and more, of 20 A from 200 % on: 70²·5 = 24 500 A²s.
    const more: Parts[string] = ['battery', { nominal_V: 12, openCircuit_V: 24, internalResistance_ohm: 0.01 }]
    const found = judge(two(more, typeC(20), 1))
    expect(found?.verdict).toBe('over')
    expect(found?.value).toBeCloseTo(24500, 6)
  })
  const unrated: Parts[string] = ['battery', { nominal_V: 12, openCircuit_V: 12 }]
  test('of the second the resistance is not known: unknown before clear, tight before unknown', () => {
    expect(judge(two(unrated, typeC(5), Math.sqrt(7700 / k2)))).toMatchObject({
      verdict: 'unknown',
      missing: ['internal resistance of aux'],
    })
    expect(judge(two(unrated, typeC(5), Math.sqrt(7600 / k2)))).toMatchObject({ verdict: 'tight', missing: [] })
  })
})

describe('nothing to judge', () => {
  test('what is not sure to be cleared within 5 s', () => {
    expect(judge(shortOf(19.9, pvc(4)))).toBeUndefined()
    expect(judge(shortOf(13, pvc(4)))).toBeUndefined()
  })
  test('a device that may take 10 s', () => {
    const document = wiring({
      parts: { bat: battery(12, 0.01), f: ['fuse', { form: 'glass', rated_A: 10, rated_V: 32 }], run: hot(0.1, pvc(4)), load: draws(1) },
      joins: ['bat:+ > f:in', 'f:out > run:a', 'run:b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    expect(judge(document)).toBeUndefined()
  })
  test('a return, and a starter’s feed behind a device', () => {
    const document = wiring({
      parts: { bat: battery(12, 0.01), f: typeC(10), run: hot(0.2, pvc(4)), load: draws(1), back: hot(0.1, pvc(4)) },
      joins: ['bat:+ > f:in', 'f:out > run:a', 'run:b > load:+', 'load:- > back:a', 'back:b > bat:-'],
      conditions: [off],
    })
    expect(judge(document)?.verdict).toBe('clear')
    expect(judge(document, 'back')).toBeUndefined()
  })
})
