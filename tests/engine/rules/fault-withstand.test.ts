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
/** battery 12 V behind 10 mΩ → type C → run → load → battery; so much current in a short at the end of the run. */
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

// 20 A through a type C of 10 A: at most 5 s (read), 20²·5 = 2000 A²s. k from 105 to 160 °C is 87.44, k² 7646.
describe('2000 A²s', () => {
  const area = (withstand_A2s: number) => Math.sqrt(withstand_A2s / copper_k2(105, 160))
  test.each([
    ['of 3000', 3000, 'clear'],
    ['of 2500: 80 %', 2500, 'clear'],
    ['of 2499', 2499, 'tight'],
    ['of 2000: at the limit', 2000, 'tight'],
    ['of 1999', 1999, 'over'],
  ])('%s', (_, withstand_A2s, verdict) => {
    const found = judge(shortOf(20, pvc(area(withstand_A2s))))
    expect(found).toMatchObject({ verdict, unit: 'A²s', missing: [], tightAbove: 0.8, overAbove: 1 })
    expect(found?.value).toBeCloseTo(2000, 6)
    expect(found?.limit).toBeCloseTo(withstand_A2s, 6)
  })
  test('the figures by hand, in the formula’s order', () => {
    const found = judge(shortOf(20, pvc(1)))
    expect(found?.names).toEqual([
      'short through the device',
      'of its rating',
      'longest time at the listed multiple reached',
      'let through in one conductor',
      'cross-section, S',
      'start temperature, Tr',
      'final temperature, θf',
      'k',
    ])
    expect(found?.units).toEqual(['A', '%', 's', 'A²s', 'mm²', '°C', '°C', 'A·√s/mm²'])
    expect(found?.number('short through the device')).toBeCloseTo(20, 9)
    expect(found?.number('of its rating')).toBeCloseTo(200, 6)
    expect(found?.number('longest time at the listed multiple reached')).toBe(5)
    expect(found?.number('let through in one conductor')).toBeCloseTo(2000, 6)
    expect(found?.number('cross-section, S')).toBe(1)
    expect(found?.number('start temperature, Tr')).toBe(105)
    expect(found?.number('final temperature, θf')).toBe(160)
    expect(found?.number('k')).toBeCloseTo(87.44, 2)
    expect(found?.limit).toBeCloseTo((found?.number('k') ?? 0) ** 2 * 1 ** 2, 9)
    expect(found?.says).toBe('A short at the far end of run puts into it, until f opens, 2000 A²s of its 7646 A²s withstand.')
  })
})

test('k 115 of PVC from 70 °C (IEC 60364-5-54, read): 1 mm² stands about 115² A²s', () => {
  const found = judge(shortOf(20, { crossSection_mm2: 1, insulation_degC: 70, insulation: 'PVC' }))
  expect(Math.abs((found?.number('k') ?? 0) - 115)).toBeLessThan(1)
  expect(found?.limit).toBeCloseTo(copper_k2(70, 160), 6)
})

describe('how much is let through', () => {
  test.each([
    ['below 600 %: 59.9²·0.5', 59.9, 10, 59.9 ** 2 * 0.5],
    ['at 600 %: 60²·0.1', 60, 10, 360],
    ['above it no more: 60²·0.1', 120, 10, 360],
    ['of 40 A, 0.15 s: 240²·0.15', 400, 40, 8640],
    ['350 %: 35²·0.5', 35, 10, 612.5],
  ])('%s', (_, current_A, rated_A, let_A2s) => {
    expect(judge(shortOf(current_A, pvc(4), { rated_A }))?.value).toBeCloseTo(let_A2s, 6)
  })
  test('two conductors side by side take half of it each: a quarter of the heat', () => {
    const found = judge(shortOf(20, pvc(1), { more: { parallel: 2 } }))
    expect(found?.value).toBeCloseTo(500, 6)
    expect(found?.number('let through in one conductor')).toBeCloseTo(500, 6)
    expect(found?.number('short through the device')).toBeCloseTo(20, 9)
    expect(found?.limit).toBeCloseTo(copper_k2(105, 160), 6)
  })
  test('a conductor beside another of twice its resistance takes two thirds', () => {
    // 0.87 ∥ 1.74 Ω = 0.58 Ω, with 10 mΩ of the battery and of the lead 0.6 Ω: 20 A, 13.33 A of it through `run`.
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
    expect(judge(document)?.value).toBeCloseTo(2000 * (2 / 3) ** 2, 6)
    expect(judge(document, 'other')?.value).toBeCloseTo(2000 / 9, 6)
  })
  test('behind two links side by side it takes what passes both', () => {
    // 12/(0.01 + 0.01 + 0.28) = 40 A, 20 A in each link of 10 A: 5 s; in the run 40²·5.
    const document = wiring({
      parts: { bat: battery(12, 0.01), f: typeC(10, 0.02), g: typeC(10, 0.02), run: hot(0.28, pvc(1)), load: draws(1) },
      joins: ['bat:+ > f:in', 'bat:+ > g:in', 'f:out > run:a', 'g:out > run:a', 'run:b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    expect(judge(document)?.number('short through the device')).toBeCloseTo(20, 9)
    expect(judge(document)?.value).toBeCloseTo(8000, 6)
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
    expect(found?.value).toBeCloseTo(2000, 6)
    expect(found?.figure('cross-section, S')).toBeNull()
  })
  test('the insulation’s rating', () => {
    const found = judge(shortOf(20, { crossSection_mm2: 4 }))
    expect(found).toMatchObject({ verdict: 'unknown', limit: null, missing: ['insulation temperature rating'] })
    expect(found?.figure('k')).toBeNull()
  })
  test('an insulation that is rated as hot in use as its kind is taken to stand: no verdict on it', () => {
    const named = ['what its insulation stands in a short']
    expect(judge(shortOf(20, { crossSection_mm2: 4, insulation_degC: 160 }))).toMatchObject({ verdict: 'unknown', missing: named })
    expect(judge(shortOf(20, { crossSection_mm2: 4, insulation_degC: 200, insulation: 'PTFE' }))).toMatchObject({
      verdict: 'unknown',
      missing: named,
    })
    expect(judge(shortOf(20, { crossSection_mm2: 5, insulation_degC: 159 }))).toMatchObject({ verdict: 'clear', missing: [] })
    expect(judge(shortOf(20, { crossSection_mm2: 4, insulation_degC: 200, insulation: 'silicone' }))).toMatchObject({
      verdict: 'clear',
      missing: [],
    })
  })
  test('its own length: all of the most that the short can draw counts', () => {
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
  test('20 A from either: of 10 A 5 s, of 5 A 0.5 s', () => {
    expect(judge(two(battery(12, 0.01), typeC(5), 1))?.value).toBeCloseTo(2000, 6)
  })
  test('the second is worse', () => {
    // 24 V: 40 A, 400 % of 10 A, 0.5 s: 800 A²s; of 20 A 5 s: 8000 A²s.
    const more: Parts[string] = ['battery', { nominal_V: 12, openCircuit_V: 24, internalResistance_ohm: 0.01 }]
    const found = judge(two(more, typeC(20), 1))
    expect(found?.verdict).toBe('over')
    expect(found?.value).toBeCloseTo(8000, 6)
  })
  const unrated: Parts[string] = ['battery', { nominal_V: 12, openCircuit_V: 12 }]
  test('of the second the resistance is not known: unknown before clear, tight before unknown', () => {
    expect(judge(two(unrated, typeC(5), Math.sqrt(2600 / k2)))).toMatchObject({
      verdict: 'unknown',
      missing: ['internal resistance of aux'],
    })
    expect(judge(two(unrated, typeC(5), Math.sqrt(2400 / k2)))).toMatchObject({ verdict: 'tight', missing: [] })
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
