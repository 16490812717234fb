/** How long a bolted short lasts: each way to a verdict, worked by hand. Long because it is one list of circuits. */
import { describe, expect, test } from 'vitest'
import type { Condition, Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, ohms, type Parts, wiring } from '../solve/wiring.ts'
import { judged } from './judged.ts'

// Copper of 105 °C insulation in a short: R = R20·(1 + 0.00393·(105 − 20)) = 1.33405·R20 (IEC 60028, memory).
const HOT = 1.33405
/** A conductor that has so much resistance in a short. */
const hot = (ohm: number): Parts[string] => ['conductor', { resistance20_ohmPerM: ohm / HOT, insulation_degC: 105 }, { length_m: 1 }]
const fuse = (form: string | null, rated_A: number | null, more: Ratings = {}): Parts[string] => [
  'fuse',
  { rated_V: 32, resistance_ohm: 0, ...(form === null ? {} : { form }), ...(rated_A === null ? {} : { rated_A }), ...more },
]
const breaker = (rated_A: number): Parts[string] => ['breaker', { rated_A, rated_V: 32, reset: 'manual', resistance_ohm: 0 }]

/** battery 12 V behind 10 mΩ → device → run → load → battery; so much current in a short at the end of the run. */
const shortOf = (current_A: number, device: Parts[string], run: Parts[string] = hot(12 / current_A - 0.01)) =>
  wiring({
    parts: { bat: battery(12, 0.01), f: device, run, load: draws(1) },
    joins: ['bat:+ > f:in', 'f:out > run:a', 'run:b > load:+', 'load:- > bat:-'],
    conditions: [off],
  })
const judge = (document: VehicleDocument, conductor = 'run') => judged(document, 'fault-clears', conductor)

describe('the highest listed multiple that the short reaches says how long', () => {
  // Windows: C, E, F read (data sheets as transcribed, ISO 8820-3); C of 10 A at 600 %, A1, SF memory.
  const rows: readonly (readonly [current_A: number, form: string, rated_A: number, longest_s: number, verdict: string])[] = [
    [60, 'C', 10, 0.1, 'clear'],
    [59.9, 'C', 10, 0.5, 'clear'],
    [35, 'C', 10, 0.5, 'clear'],
    [34.9, 'C', 10, 5, 'clear'],
    [20, 'C', 10, 5, 'clear'],
    [19.9, 'C', 10, 50, 'over'],
    [16, 'C', 10, 50, 'over'],
    [15.9, 'C', 10, 600, 'over'],
    [13.5, 'C', 10, 600, 'over'],
    [210, 'C', 35, 0.15, 'clear'],
    [204, 'C', 34, 0.1, 'clear'],
    [15, 'F', 2.5, 0.1, 'clear'],
    [6, 'F', 3, 5, 'clear'],
    [180, 'E', 30, 1, 'clear'],
    [179, 'E', 30, 7, 'over'],
    [60, 'E', 30, 50, 'over'],
    [240, 'A1', 40, 1, 'clear'],
    [239, 'A1', 40, 7, 'over'],
    [105, 'SF30', 30, 5, 'clear'],
    [104, 'SF30', 30, 15, 'over'],
    [280, 'SF51', 80, 5, 'clear'],
    [279, 'SF51', 80, 15, 'over'],
  ]
  test.each(rows)('%f A through a type %s of %f A: %f s, %s', (current_A, form, rated_A, longest_s, verdict) => {
    const found = judge(shortOf(current_A, fuse(form, rated_A)))
    expect(found).toMatchObject({ verdict, value: longest_s, limit: 5, unit: 's', used: longest_s / 5, missing: [], evidence: 'typical' })
    expect(found?.tightAbove).toBeNull()
  })

  test.each([
    ['C', 10, 13.4],
    ['E', 30, 40.4],
    ['glass', 10, 13.4],
  ] as const)('type %s of %f A at %f A: less than 135 per cent, never sure to open', (form, rated_A, current_A) => {
    const found = judge(shortOf(current_A, fuse(form, rated_A)))
    expect(found).toMatchObject({ verdict: 'over', value: null, limit: 5, missing: [] })
    expect(found?.says).toBe('A short at the far end of run draws too little for f to be sure to open.')
    expect(found?.figure('device')).toBe('f')
    expect(found?.number('through it, of its rating')).toBeCloseTo((100 * current_A) / rated_A, 6)
    expect(found?.figure('highest listed multiple reached')).toBeNull()
    expect(found?.figure('its longest opening time')).toBeNull()
  })

  test('the figures in the formula’s order; by hand they give the short', () => {
    const found = judge(shortOf(36, fuse('C', 10)))
    expect(found?.names).toEqual([
      'battery, alone',
      'the short returns by',
      'short, conductors hot',
      'device',
      'through it, of its rating',
      'highest listed multiple reached',
      'its longest opening time',
    ])
    expect(found?.units).toEqual(['', '', 'A', '', '%', '%', 's'])
    expect(found?.figure('battery, alone')).toBe('bat')
    // 12 V / (0.01 + 0.32333 Ω) = 36 A; of 10 A 360 %.
    expect(found?.number('short, conductors hot')).toBeCloseTo(12 / (0.01 + (12 / 36 - 0.01)), 9)
    expect(found?.number('through it, of its rating')).toBeCloseTo(360, 6)
    expect(found?.figure('device')).toBe('f')
    expect(found?.figure('highest listed multiple reached')).toBe(350)
    expect(found?.figure('its longest opening time')).toBe(0.5)
    expect(found?.says).toBe('Ending a short at the far end of run takes f up to 0.5 s of its 5 s limit.')
    expect(found?.remedy).toBe('')
  })
})

// A battery's label, worked in public: 600 CCA SAE, (12.6 − 7.2)/600 = 9.0 mΩ (SAE J537 end voltage, read).
test('the whole −18 °C resistance of a cold-cranking figure counts', () => {
  // 12.6 V / (0.009 + 0.201 Ω) = 60 A: 600 % of 10 A, just. With half of 9 mΩ it would be 61.3 A; with 9.1 mΩ 59.97 A and 0.5 s.
  const document = (run_ohm: number) =>
    wiring({
      parts: {
        bat: ['battery', { nominal_V: 12, openCircuit_V: 12.6, coldCranking_A: 600, coldCrankingTest: 'SAE' }],
        f: fuse('C', 10),
        run: hot(run_ohm),
        load: draws(1),
      },
      joins: ['bat:+ > f:in', 'f:out > run:a', 'run:b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
  expect(judge(document(0.201))?.number('short, conductors hot')).toBeCloseTo(60, 9)
  expect(judge(document(0.201))?.value).toBe(0.1)
  expect(judge(document(0.2011))?.value).toBe(0.5)
})

test('a conductor of unknown insulation is as hot as one of 105 °C; one of 60 °C less so', () => {
  // 0.2 Ω at 20 °C: at 105 °C 0.26681 Ω → 12/0.27681 = 43.35 A; at 60 °C 0.2·1.1572 = 0.23144 Ω → 12/0.24144 = 49.70 A.
  const run = (more: Ratings): Parts[string] => ['conductor', { resistance20_ohmPerM: 0.2, ...more }, { length_m: 1 }]
  const short_A = (more: Ratings) => judge(shortOf(1, fuse('C', 10), run(more)))?.number('short, conductors hot')
  expect(short_A({})).toBeCloseTo(12 / 0.27681, 9)
  expect(short_A({ insulation_degC: 105 })).toBeCloseTo(12 / 0.27681, 9)
  expect(short_A({ insulation_degC: 60 })).toBeCloseTo(12 / 0.24144, 9)
})

describe('to the chassis or by its load’s own return, whichever gives less', () => {
  const grounded = (back_ohm: number, strap_ohm: number) =>
    wiring({
      parts: {
        bat: battery(12, 0.01),
        f: fuse('C', 10),
        run: hot(0.19),
        load: draws(1),
        back: hot(back_ohm),
        body: ['chassis', {}],
        strap: hot(strap_ohm),
      },
      joins: [
        'bat:+ > f:in',
        'f:out > run:a',
        'run:b > load:+',
        'load:- > back:a',
        'back:b > bat:-',
        'body:1 > strap:a',
        'strap:b > bat:-',
      ],
      conditions: [off],
    })
  test('by a thin return of its own: 12/(0.2 + 0.4) = 20 A, 5 s', () => {
    const found = judge(grounded(0.4, 0.01))
    expect(found).toMatchObject({ verdict: 'clear', value: 5 })
    expect(found?.number('short, conductors hot')).toBeCloseTo(20, 9)
    expect(found?.figure('the short returns by')).toBe('load')
  })
  test('by a bad strap: 12/(0.2 + 0.5) = 17.1 A, 50 s', () => {
    const found = judge(grounded(0.1, 0.5))
    expect(found).toMatchObject({ verdict: 'over', value: 50 })
    expect(found?.number('short, conductors hot')).toBeCloseTo(12 / 0.7, 9)
    expect(found?.figure('the short returns by')).toBe('body')
  })
  test('both good: 12/0.21 = 57.1 A, 0.5 s', () => {
    const found = judge(grounded(0.01, 0.01))
    expect(found).toMatchObject({ verdict: 'clear', value: 0.5 })
    expect(found?.number('short, conductors hot')).toBeCloseTo(12 / 0.21, 9)
  })
})

describe('devices that are slow by their kind', () => {
  // 4 mm² of 105 °C at 30 °C bears 50.62 A (33 CFR 183.425 Table 5, read; worked out beside the ampacity rows); hot it has 1.33405/(58·4) = 5.7502 mΩ/m.
  const heavy: Parts[string] = ['conductor', { material: 'copper', crossSection_mm2: 4, insulation_degC: 105 }, { length_m: 1, zone: 'z' }]
  const slow = (
    device: Parts[string],
    run: Parts[string] = heavy,
    more: { readonly parts?: Parts; readonly joins?: readonly string[] } = {},
  ) =>
    wiring({
      // Such a battery gives at most 12/0.0457502 = 262.3 A there.
      parts: { bat: battery(12, 0.04), f: device, run, load: draws(1), ...more.parts },
      joins: ['bat:+ > f:in', 'f:out > run:a', 'run:b > load:+', 'load:- > bat:-', ...(more.joins ?? [])],
      conditions: [off],
      ambient_degC: 30,
    })
  test('a breaker whose rating the conductor bears for ever: tight', () => {
    const found = judge(slow(breaker(50)))
    // 262.3 A of 50 A: 525 %; at 200 % a breaker may take 60 s (memory).
    expect(found).toMatchObject({ verdict: 'tight', value: 60, limit: 5, missing: [] })
    expect(found?.number('short, conductors hot')).toBeCloseTo(12 / (0.04 + 1.33405 / 232), 6)
    expect(found?.figure('highest listed multiple reached')).toBe(200)
    expect(found?.says).toBe('f is slow by its kind on a short at the far end of run, which bears its rating meanwhile.')
  })
  test('one it does not bear: over', () => {
    const found = judge(slow(breaker(51)))
    expect(found).toMatchObject({ verdict: 'over', value: 60, missing: [] })
    expect(found?.says).toBe('f is slow by its kind on a short at the far end of run, which does not bear its rating.')
  })
  test('a glass link: tight where it is borne, over where not', () => {
    // At 200 % at most 10 s (UL 275, SAE J554, memory).
    expect(judge(slow(fuse('glass', 30)))).toMatchObject({ verdict: 'tight', value: 10 })
    expect(judge(slow(fuse('glass', 60)))).toMatchObject({ verdict: 'over', value: 10 })
  })
  test('between 135 and 200 % it may take an hour', () => {
    // 262.3 A of 150 A is 175 %.
    expect(judge(slow(breaker(150)))).toMatchObject({ verdict: 'over', value: 3600 })
  })
  test('whether it is borne is not known: unknown, and what is missing is named', () => {
    const bare: Parts[string] = ['conductor', { material: 'copper', crossSection_mm2: 4 }, { length_m: 1, zone: 'z' }]
    const found = judge(slow(breaker(30), bare))
    expect(found).toMatchObject({ verdict: 'unknown', value: 60, missing: ['insulation temperature rating'] })
  })
  test('nor where another battery’s device is of unknown rating', () => {
    const found = judge(
      slow(breaker(30), heavy, {
        parts: { aux: battery(12, 0.04), g: ['breaker', { rated_V: 32, reset: 'manual', resistance_ohm: 0.001 }] },
        joins: ['aux:+ > g:in', 'g:out > run:a', 'aux:- > bat:-'],
      }),
    )
    expect(found?.verdict).toBe('unknown')
    expect(found?.missing).toContain('rated current of g')
  })
  test('a quick link behind a breaker ends it first', () => {
    const found = judge(
      wiring({
        parts: { bat: battery(12, 0.04), b: breaker(50), f: fuse('C', 20), run: heavy, load: draws(1) },
        joins: ['bat:+ > b:in', 'b:out > f:in', 'f:out > run:a', 'run:b > load:+', 'load:- > bat:-'],
        conditions: [off],
        ambient_degC: 30,
      }),
    )
    expect(found).toMatchObject({ verdict: 'clear', value: 0.1 })
    expect(found?.figure('device')).toBe('f')
  })
})

describe('what is not known', () => {
  test.each([
    ['the form', fuse(null, 10), ['opening times of f']],
    ['a form without a table', fuse('class-T', 10), ['opening times of f']],
    ['a single-bolt link', fuse('single-bolt', 10), ['opening times of f']],
    ['the rating', fuse('C', null), ['rated current of f']],
    ['rating and form: the rating comes first', fuse(null, null), ['rated current of f']],
  ] as const)('%s', (_, device, missing) => {
    const found = judge(shortOf(36, device))
    expect(found).toMatchObject({ verdict: 'unknown', value: null, limit: 5, missing })
    expect(found?.says).toBe(`A short at the far end of run lasts an unknown time: ${missing} not known.`)
    expect(found?.remedy).toBe(`Find out: ${missing}.`)
    expect(found?.figure('device')).toBeNull()
    expect(found?.figure('through it, of its rating')).toBeNull()
  })
  test('the battery’s resistance: no short is too small then, and none is proven', () => {
    const document = (run_ohm: number) =>
      wiring({
        parts: { bat: ['battery', { nominal_V: 12, openCircuit_V: 12 }], f: fuse('C', 10), run: hot(run_ohm), load: draws(1) },
        joins: ['bat:+ > f:in', 'f:out > run:a', 'run:b > load:+', 'load:- > bat:-'],
        conditions: [off],
      })
    // At most 40 A: at best 0.5 s.
    expect(judge(document(0.3))).toMatchObject({ verdict: 'unknown', value: 0.5, missing: ['internal resistance of bat'] })
    // At most 17.1 A: at best 50 s, over whatever the battery has.
    expect(judge(document(0.7))).toMatchObject({ verdict: 'over', value: 50, missing: ['internal resistance of bat'] })
    // At most 12 A: never sure to open.
    expect(judge(document(1))).toMatchObject({ verdict: 'over', value: null })
  })
  test('a length on the way, and one on the way back', () => {
    const bare: Parts[string] = ['conductor', { material: 'copper', crossSection_mm2: 1, insulation_degC: 105 }]
    const document = (run: Parts[string], back: Parts[string]) =>
      wiring({
        parts: { bat: battery(12, 0.01), f: fuse('C', 10), run, load: draws(1), back },
        joins: ['bat:+ > f:in', 'f:out > run:a', 'run:b > load:+', 'load:- > back:a', 'back:b > bat:-'],
        conditions: [off],
      })
    expect(judge(document(bare, hot(0.3)))).toMatchObject({ verdict: 'unknown', missing: ['resistance of run'] })
    expect(judge(document(hot(0.3), bare))).toMatchObject({ verdict: 'unknown', missing: ['resistance of back'] })
  })
  test('a device of unknown rating behind a slow one: it may be quick enough', () => {
    const document = (...devices: readonly [Parts[string], Parts[string]]) =>
      wiring({
        parts: { bat: battery(12, 0.01), main: devices[0], f: devices[1], run: hot(0.59), load: draws(1) },
        joins: ['bat:+ > main:in', 'main:out > f:in', 'f:out > run:a', 'run:b > load:+', 'load:- > bat:-'],
        conditions: [off],
      })
    // 20 A: 133 % of 15 A, 160 % of 12.5 A (50 s), 200 % of 10 A (5 s).
    expect(judge(document(fuse('C', 12.5), fuse('C', null)))).toMatchObject({
      verdict: 'unknown',
      value: 50,
      missing: ['rated current of f'],
    })
    expect(judge(document(breaker(10), fuse('C', null)))).toMatchObject({
      verdict: 'unknown',
      value: 60,
      missing: ['rated current of f'],
    })
    expect(judge(document(fuse('C', 15), fuse('C', null)))).toMatchObject({ verdict: 'unknown', value: null })
    // Where the known one is quick enough, the other cannot harm.
    expect(judge(document(fuse('C', 10), fuse('C', null)))).toMatchObject({ verdict: 'clear', value: 5, missing: [] })
    // The quicker of two known ones counts, on whichever side it stands.
    expect(judge(document(fuse('C', 12.5), fuse('C', 10)))).toMatchObject({ verdict: 'clear', value: 5 })
    expect(judge(document(fuse('C', 10), fuse('C', 12.5)))).toMatchObject({ verdict: 'clear', value: 5 })
    // 15 and 20 A: neither is sure to; the nearer one is named.
    const never = judge(document(fuse('C', 20), fuse('C', 15)))
    expect(never).toMatchObject({ verdict: 'over', value: null })
    expect(never?.figure('device')).toBe('f')
    expect(judge(document(fuse('C', 15), fuse('C', 20)))?.figure('device')).toBe('main')
  })
})

describe('two batteries', () => {
  const two = (second: Parts[string], more: { readonly aux?: Parts[string]; readonly run?: Parts[string] } = {}) =>
    wiring({
      parts: {
        bat: battery(12, 0.01),
        aux: more.aux ?? battery(12, 0.01),
        f: fuse('C', 10),
        g: second,
        run: more.run ?? hot(0.59),
        load: draws(1),
      },
      joins: ['bat:+ > f:in', 'f:out > run:a', 'aux:+ > g:in', 'g:out > run:a', 'aux:- > bat:-', 'run:b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
  // Each alone: 12/0.6 = 20 A.
  test('both are cleared, the slower one is what counts', () => {
    const found = judge(two(fuse('C', 5)))
    expect(found).toMatchObject({ verdict: 'clear', value: 5 })
    expect(found?.figure('battery, alone')).toBe('bat')
    expect(found?.number('short, conductors hot')).toBeCloseTo(20, 9)
  })
  test('of two alike the first is told', () => {
    expect(judge(two(fuse('C', 10)))?.figure('battery, alone')).toBe('aux')
  })
  test('slow by its kind but borne from the first: what is not known of the second, or its link, does not hide it', () => {
    const slow = (second: Parts[string], more: { readonly aux?: Parts[string]; readonly behind?: Parts[string] } = {}) =>
      judge(
        wiring({
          parts: {
            bat: battery(12, 0.01),
            aux: more.aux ?? battery(12, 0.01),
            f: breaker(20),
            g: second,
            ...(more.behind ? { h: more.behind } : {}),
            run: ['conductor', { resistance20_ohmPerM: 0.19 / HOT, crossSection_mm2: 4, insulation_degC: 105 }, { length_m: 1, zone: 'z' }],
            load: draws(1),
          },
          joins: [
            'bat:+ > f:in',
            'f:out > run:a',
            'aux:+ > g:in',
            ...(more.behind ? ['g:out > h:in', 'h:out > run:a'] : ['g:out > run:a']),
            'aux:- > bat:-',
            'run:b > load:+',
            'load:- > bat:-',
          ],
          conditions: [off],
          ambient_degC: 30,
        }),
      )
    // 12/0.2 = 60 A: 300 % of the 20 A breaker (60 s, borne by 50.6 A), 600 % of 10 A, 150 % of 40 A (600 s), 120 % of 50 A.
    expect(slow(fuse('C', 10))).toMatchObject({ verdict: 'tight', value: 60 })
    expect(slow(fuse(null, 10))).toMatchObject({ verdict: 'tight', value: 60 })
    expect(slow(fuse('C', 40))).toMatchObject({ verdict: 'over', value: 600 })
    expect(slow(fuse('C', 50))).toMatchObject({ verdict: 'over', value: null })
    // 353 % of a type E of 17 A: 7 s.
    expect(slow(fuse('E', 17))).toMatchObject({ verdict: 'over', value: 7 })
    // A battery of unknown resistance gives at most 63 A, 158 % of 40 A: over all the same.
    const aux: Parts[string] = ['battery', { nominal_V: 12, openCircuit_V: 12 }]
    expect(slow(fuse('C', 40), { aux })).toMatchObject({ verdict: 'over', value: 600, missing: ['internal resistance of aux'] })
    // 150 % of 40 A, but a link of unknown rating may be quicker.
    expect(slow(fuse('C', 40), { behind: fuse('C', null) })).toMatchObject({ verdict: 'tight', value: 60 })
    // Never sure to open stands before slow.
    expect(slow(fuse('C', 50), { aux: battery(12, 0.011) })).toMatchObject({ verdict: 'over', value: null })
  })
  test('from the second it is too slow: over', () => {
    const found = judge(two(fuse('C', 12)))
    expect(found).toMatchObject({ verdict: 'over', value: 50 })
    expect(found?.figure('battery, alone')).toBe('aux')
  })
  test('from the second it never opens', () => {
    expect(judge(two(fuse('C', 15)))).toMatchObject({ verdict: 'over', value: null })
  })
  test('the second is behind a fuse of unknown form: unknown, though the first is cleared', () => {
    expect(judge(two(fuse(null, 10)))).toMatchObject({ verdict: 'unknown', value: null, missing: ['opening times of g'] })
  })
  test('of the second the resistance is not known: unknown, though it is cleared sooner at best', () => {
    const found = judge(two(fuse('C', 3), { aux: ['battery', { nominal_V: 12, openCircuit_V: 12 }] }))
    expect(found).toMatchObject({ verdict: 'unknown', value: 0.1, missing: ['internal resistance of aux'] })
  })
})

describe('two links side by side', () => {
  const pair = (first: Parts[string], second: Parts[string], run_ohm: number) =>
    wiring({
      parts: { bat: battery(12, 0.01), f: first, g: second, run: hot(run_ohm), load: draws(1) },
      joins: ['bat:+ > f:in', 'bat:+ > g:in', 'f:out > run:a', 'g:out > run:a', 'run:b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
  const link = (rated_A: number, resistance_ohm: number, form: string | null = 'C') => fuse(form, rated_A, { resistance_ohm })
  test('each has its share: 40 A in equal halves, 20 A of 10 A', () => {
    // 12/(0.01 + 0.01 + 0.28) = 40 A through two of 20 mΩ.
    const found = judge(pair(link(10, 0.02), link(10, 0.02), 0.28))
    expect(found).toMatchObject({ verdict: 'clear', value: 5 })
    expect(found?.number('short, conductors hot')).toBeCloseTo(40, 9)
    expect(found?.number('through it, of its rating')).toBeCloseTo(200, 6)
  })
  test('the last of them ends it: a quick one beside a slow one', () => {
    // 20 A each: 400 % of 5 A (0.5 s), 200 % of 10 A (5 s).
    const found = judge(pair(link(5, 0.02), link(10, 0.02), 0.28))
    expect(found).toMatchObject({ verdict: 'clear', value: 5 })
    expect(found?.figure('device')).toBe('g')
    expect(judge(pair(link(10, 0.02), link(5, 0.02), 0.28))?.figure('device')).toBe('f')
  })
  test('unequal ones share by their resistances', () => {
    // 10 mΩ beside 20 mΩ: together 6.667 mΩ; 12/(0.01 + 0.0066667 + 0.2833333) = 40 A, 26.67 and 13.33 A: 533 % of 5 A, 267 % of 5 A.
    const found = judge(pair(link(5, 0.01), link(5, 0.02), 0.3 - 0.01 - 0.02 / 3))
    expect(found).toMatchObject({ verdict: 'clear', value: 5 })
    expect(found?.figure('device')).toBe('g')
    expect(found?.number('through it, of its rating')).toBeCloseTo(800 / 3, 5)
  })
  test('one is sure to open, the other not while both stand: which is last is not known', () => {
    // 20 A each: 200 % of 10 A, 133 % of 15 A.
    const found = judge(pair(link(10, 0.02), link(15, 0.02), 0.28))
    expect(found).toMatchObject({ verdict: 'unknown', value: null, missing: ['which of the devices side by side opens last'] })
  })
  test('neither is sure to open: over', () => {
    // 20 A each: 133 % of 15 A.
    const found = judge(pair(link(15, 0.02), link(15, 0.02), 0.28))
    expect(found).toMatchObject({ verdict: 'over', value: null, missing: [] })
  })
  test('no resistance in either: how they share is not known', () => {
    const found = judge(pair(link(10, 0), link(10, 0), 0.29))
    expect(found).toMatchObject({ verdict: 'unknown', value: null })
    expect([...(found?.missing ?? [])].sort()).toEqual(['how a short divides over f', 'how a short divides over g'])
  })
  test('of unknown form: named, both', () => {
    const found = judge(pair(link(10, 0.02, null), link(10, 0.02, null), 0.28))
    expect([...(found?.missing ?? [])].sort()).toEqual(['opening times of f', 'opening times of g'])
  })
  test('a single one ahead of both is enough', () => {
    const document = wiring({
      parts: { bat: battery(12, 0.01), main: fuse('C', 20), f: link(15, 0.02), g: link(15, 0.02), run: hot(0.28), load: draws(1) },
      joins: [
        'bat:+ > main:in',
        'main:out > f:in',
        'main:out > g:in',
        'f:out > run:a',
        'g:out > run:a',
        'run:b > load:+',
        'load:- > bat:-',
      ],
      conditions: [off],
    })
    // 40 A: 200 % of 20 A.
    const found = judge(document)
    expect(found).toMatchObject({ verdict: 'clear', value: 5, missing: [] })
    expect(found?.figure('device')).toBe('main')
  })
})

describe('nothing to judge', () => {
  test('no device ahead', () => {
    const document = wiring({
      parts: { bat: battery(12, 0.01), run: ohms(0.1), load: draws(1) },
      joins: ['bat:+ > run:a', 'run:b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    expect(judge(document)).toBeUndefined()
  })
  test('a bare way round the device: what runs unfused is judged by its length', () => {
    const document = wiring({
      parts: { bat: battery(12, 0.01), f: fuse('C', 10, { resistance_ohm: 0.01 }), by: ohms(0.01), run: hot(0.1), load: draws(1) },
      joins: ['bat:+ > f:in', 'bat:+ > by:a', 'f:out > run:a', 'by:b > run:a', 'run:b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    expect(judge(document)).toBeUndefined()
    expect(judged(document, 'unfused-length', 'run')).toMatchObject({ verdict: 'over', value: 2 })
  })
  test('a return, and the feed of a starter', () => {
    const document = wiring({
      parts: {
        bat: battery(12, 0.01),
        f: fuse('C', 10),
        run: hot(0.59),
        load: draws(1),
        back: hot(0.1),
        heavy: ohms(0.001),
        starter: draws(200, { starter: true }),
      },
      joins: [
        'bat:+ > f:in',
        'f:out > run:a',
        'run:b > load:+',
        'load:- > back:a',
        'back:b > bat:-',
        'bat:+ > heavy:a',
        'heavy:b > starter:+',
        'starter:- > bat:-',
      ],
      conditions: [off],
    })
    expect(judge(document)?.verdict).toBe('over')
    expect(judge(document, 'back')).toBeUndefined()
    expect(judge(document, 'heavy')).toBeUndefined()
  })
  test('a conductor that only an alternator feeds', () => {
    const running: Condition = { key: 'r', name: 'running', engine: 'running' }
    const document = wiring({
      parts: { alt: ['alternator', { setPoint_V: 14.4, output_A: 60 }], f: fuse('C', 10), run: hot(0.1), load: draws(1) },
      joins: ['alt:+ > f:in', 'f:out > run:a', 'run:b > load:+', 'load:- > alt:-'],
      conditions: [running],
    })
    expect(judge(document)).toBeUndefined()
  })
})

test('a changeover relay is at rest or works: the short behind either contact is judged with that one closed', () => {
  const document = wiring({
    parts: {
      bat: battery(12, 0.01),
      f: fuse('C', 10),
      r: ['relay', { make_A: 40, break_A: 30, rated_V: 16, contactResistance_ohm: 0.01 }],
      made: hot(0.58),
      rested: hot(0.1),
      bulb: draws(1),
      horn: draws(1),
    },
    joins: [
      'bat:+ > f:in',
      'f:out > r:30',
      'r:87 > made:a',
      'made:b > bulb:+',
      'bulb:- > bat:-',
      'r:87a > rested:a',
      'rested:b > horn:+',
      'horn:- > bat:-',
    ],
    conditions: [{ key: 'o', name: 'off', engine: 'off', on: ['bulb'] }],
  })
  // 12/(0.01 + 0.01 + 0.58) = 20 A; 12/(0.01 + 0.01 + 0.1) = 100 A.
  expect(judge(document, 'made')?.number('short, conductors hot')).toBeCloseTo(20, 9)
  expect(judge(document, 'made')).toMatchObject({ verdict: 'clear', value: 5 })
  expect(judge(document, 'rested')?.number('short, conductors hot')).toBeCloseTo(100, 9)
  expect(judge(document, 'rested')).toMatchObject({ verdict: 'clear', value: 0.1 })
})
