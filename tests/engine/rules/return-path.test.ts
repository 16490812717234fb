import { describe, expect, test } from 'vitest'
import { checkVehicle } from '../../../server/engine/rules/check.ts'
import type { Condition } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, type Parts, running, wiring } from '../solve/wiring.ts'

// 105 °C at 30 °C: 4 mm² 50.62 A, 5.2612 mm² (10 AWG) 60 A (33 CFR 183.425 Table 5, read; worked out in rules.test.ts).
const wire = (crossSection_mm2 = 4, parallel?: number): Parts[string] => [
  'conductor',
  { material: 'copper', crossSection_mm2, insulation_degC: 105 },
  { length_m: 1, zone: 'z', ...(parallel === undefined ? {} : { parallel }) },
]
const bare: Parts[string] = ['conductor', { material: 'copper', crossSection_mm2: 4 }, { length_m: 1, zone: 'z' }]
const device = (rated_A?: number, kind = 'fuse'): Parts[string] => [
  kind,
  { rated_V: 32, resistance_ohm: 0.001, ...(rated_A === undefined ? {} : { rated_A }) },
]
const found = (parts: Parts, joins: readonly string[], conditions: readonly Condition[] = [off]) =>
  checkVehicle(
    wiring({ parts: { bat: battery(12.6, 0.01), load: draws(5), ...parts }, joins, conditions, ambient_degC: 30 }),
  ).findings.find((one) => one.rule === 'return-path' && one.component === 'load')
const fed = ['bat:+ > f:in', 'f:out > load:+']
const back = ['load:- > g:a', 'g:b > bat:-']
const twoFuses = ['bat:+ > f:in', 'f:out > e:in', 'e:out > load:+']
const series = ['load:- > g:a', 'g:b > h:a', 'h:b > bat:-']

describe('return-path', () => {
  test.each<[string, ReturnType<typeof found>, string, number]>([
    ['102 A through two in parallel: 51 A each', found({ f: device(102), g: wire(4, 2) }, [...fed, ...back]), 'tight', 51],
    ['a breaker of 51 A', found({ f: device(51, 'breaker'), g: wire() }, [...fed, ...back]), 'tight', 51],
    ['100 A, then 40 A', found({ f: device(100), e: device(40), g: wire() }, [...twoFuses, ...back]), 'clear', 40],
    ['40 A, then 100 A', found({ f: device(40), e: device(100), g: wire() }, [...twoFuses, ...back]), 'clear', 40],
    ['50 A and one of unknown rating: enough', found({ f: device(50), e: device(), g: wire() }, [...twoFuses, ...back]), 'clear', 50],
    ['51 A and one of unknown rating', found({ f: device(51), e: device(), g: wire() }, [...twoFuses, ...back]), 'unknown', 51],
    [
      'two fuses of 30 A side by side, alike: 60 A',
      found({ f: device(30), e: device(30), g: wire() }, ['bat:+ > f:in', 'bat:+ > e:in', 'f:out > load:+', 'e:out > load:+', ...back]),
      'tight',
      60,
    ],
    ['55 A back through 10 AWG, then 4 mm²', found({ f: device(55), g: wire(5.2612), h: wire() }, [...fed, ...series]), 'tight', 55],
    ['55 A back through 4 mm², then 10 AWG', found({ f: device(55), g: wire(), h: wire(5.2612) }, [...fed, ...series]), 'tight', 55],
    [
      'insulation of the first not known, the second within',
      found({ f: device(20), g: bare, h: wire() }, [...fed, ...series]),
      'unknown',
      20,
    ],
    [
      'insulation of the second not known, the first within',
      found({ f: device(20), g: wire(), h: bare }, [...fed, ...series]),
      'unknown',
      20,
    ],
    [
      'insulation of the first not known, the second past 150 %',
      found({ f: device(80), g: bare, h: wire() }, [...fed, ...series]),
      'over',
      80,
    ],
    [
      'insulation of the second not known, the first past 150 %',
      found({ f: device(80), g: wire(), h: bare }, [...fed, ...series]),
      'over',
      80,
    ],
  ])('%s', (_, finding, verdict, value_A) => {
    expect(finding?.verdict).toBe(verdict)
    expect(finding?.value).toBeCloseTo(value_A, 6)
  })

  test('no return: named', () => {
    expect(found({ f: device(10) }, fed)).toMatchObject({ verdict: 'unknown', missing: ['return of load'] })
  })
  test('two returns of unknown insulation: both are asked for, since one alone would leave it unknown', () => {
    const finding = found({ f: device(20), g: bare, h: bare }, [...fed, ...series])
    expect(finding?.missing).toEqual(['insulation temperature rating (g)', 'insulation temperature rating (h)'])
  })
  test('two returns behind a fuse of unknown rating: it is asked for once', () => {
    expect(found({ f: device(51), e: device(), g: wire(), h: wire() }, [...twoFuses, ...series])?.missing).toEqual(['rated current of e'])
  })
  test('of two returns not known, the one that has no limit at all is told', () => {
    expect(found({ f: device(51), e: device(), g: wire(), h: bare }, [...twoFuses, ...series])?.says).toContain('return h')
    expect(found({ f: device(51), e: device(), g: bare, h: wire() }, [...twoFuses, ...series])?.says).toContain('return g')
  })
  test('no fuse ahead: what the return must bear is not known', () => {
    expect(found({ g: wire() }, ['bat:+ > load:+', ...back])).toMatchObject({
      verdict: 'unknown',
      missing: ['what limits the current of load'],
    })
  })
  test('straight to the post: nothing to bear', () => {
    expect(found({ f: device(10) }, [...fed, 'load:- > bat:-'])).toMatchObject({ verdict: 'clear', used: null, evidence: 'datasheet' })
  })
  test('a pump is judged alike', () => {
    expect(
      found({ f: device(51), g: wire(), load: ['pump', { behaviour: 'current', current_A: 5, rated_V: 12 }] }, [...fed, ...back])?.verdict,
    ).toBe('tight')
  })
  test('a starter has no fuse to bear; a load that nothing feeds has no way back', () => {
    expect(found({ g: wire(), load: draws(200, { starter: true }) }, ['bat:+ > load:+', ...back])).toBeUndefined()
    expect(
      found({ f: device(51), g: wire(), other: draws(1) }, ['bat:+ > f:in', 'f:out > other:+', 'other:- > bat:-', ...back]),
    ).toBeUndefined()
  })
  // The alternator feeds the load through no device at all: it limits its own current, and only the battery's way is judged.
  test('with a battery and an alternator the battery’s way is judged', () => {
    const alternator: Parts = { alt: ['alternator', { setPoint_V: 14.4, output_A: 60 }], f: device(51), g: wire() }
    expect(found(alternator, [...fed, ...back, 'alt:+ > load:+', 'alt:- > bat:-'], [running])?.verdict).toBe('tight')
  })
  test('is judged once, in the first condition', () => {
    expect(found({ f: device(51), g: wire() }, [...fed, ...back], [off, { ...off, key: 'p' }])?.condition).toBe('o')
  })
})
