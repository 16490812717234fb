import { describe, expect, test } from 'vitest'
import { checkVehicle } from '../../../server/engine/rules/check.ts'
import type { Condition, Ratings } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, type Parts, running, wiring } from '../solve/wiring.ts'

// 4 mm² of 105 °C at 30 °C: 50.62 A (33 CFR 183.425 Table 5, read; worked out in rules.test.ts); 150 % of it 75.9 A (33 CFR 183.455(c), read).
const wire = (parallel?: number): Parts[string] => [
  'conductor',
  { material: 'copper', crossSection_mm2: 4, insulation_degC: 105 },
  { length_m: 1, zone: 'z', ...(parallel === undefined ? {} : { parallel }) },
]
const device = (rated_A?: number, kind = 'fuse'): Parts[string] => [
  kind,
  { rated_V: 32, resistance_ohm: 0.001, ...(rated_A === undefined ? {} : { rated_A }) },
]
const found = (parts: Parts, joins: readonly string[], conditions: readonly Condition[] = [off]) =>
  checkVehicle(
    wiring({
      parts: { bat: battery(12.6, 0.01), load: draws(5), ...parts },
      joins: [...joins, 'load:- > bat:-'],
      conditions,
      ambient_degC: 30,
    }),
  ).findings.find((one) => one.rule === 'conductor-protection' && one.component === 'w')
const w = wire()

describe('conductor-protection by shares of the current', () => {
  test.each<[string, ReturnType<typeof found>, string, number]>([
    [
      '100 A into two in parallel: 50 A each',
      found({ f: device(100), w: wire(2) }, ['bat:+ > f:in', 'f:out > w:a', 'w:b > load:+']),
      'clear',
      50,
    ],
    [
      '102 A into two in parallel: 51 A each',
      found({ f: device(102), w: wire(2) }, ['bat:+ > f:in', 'f:out > w:a', 'w:b > load:+']),
      'tight',
      51,
    ],
    [
      'two fuses of 30 A side by side, alike: each opens at 60 A in the wire',
      found({ f: device(30), g: device(30), w }, ['bat:+ > f:in', 'bat:+ > g:in', 'f:out > w:a', 'g:out > w:a', 'w:b > load:+']),
      'tight',
      60,
    ],
    [
      'two fuses of 25 A side by side: 50 A',
      found({ f: device(25), g: device(25), w }, ['bat:+ > f:in', 'bat:+ > g:in', 'f:out > w:a', 'g:out > w:a', 'w:b > load:+']),
      'clear',
      50,
    ],
    [
      '100 A, then 40 A',
      found({ f: device(100), g: device(40), w }, ['bat:+ > f:in', 'f:out > g:in', 'g:out > w:a', 'w:b > load:+']),
      'clear',
      40,
    ],
    [
      '40 A, then 100 A',
      found({ f: device(40), g: device(100), w }, ['bat:+ > f:in', 'f:out > g:in', 'g:out > w:a', 'w:b > load:+']),
      'clear',
      40,
    ],
    ['a breaker of 80 A', found({ f: device(80, 'breaker'), w }, ['bat:+ > f:in', 'f:out > w:a', 'w:b > load:+']), 'over', 80],
  ])('%s', (_, finding, verdict, value_A) => {
    expect(finding?.verdict).toBe(verdict)
    expect(finding?.value).toBeCloseTo(value_A, 6)
  })
})

describe('conductor-protection from two batteries', () => {
  const two = (first: Parts[string], second: Parts[string]) =>
    found({ aux: battery(12.6, 0.01), f: first, g: second, w }, [
      'bat:+ > f:in',
      'f:out > w:a',
      'aux:+ > g:in',
      'g:out > w:a',
      'w:b > load:+',
      'aux:- > bat:-',
    ])
  test('over by what is known stays over, whatever the other’s rating', () => {
    expect(two(device(80), device())?.verdict).toBe('over')
    expect(two(device(), device(80))?.verdict).toBe('over')
  })
  test('both known: the larger counts', () => {
    expect(two(device(60), device(80))?.value).toBe(80)
    expect(two(device(80), device(60))?.value).toBe(80)
  })
})

describe('conductor-protection asks for a device where one is needed', () => {
  test('a device further on: then its length is what counts', () => {
    expect(found({ f: device(10), w }, ['bat:+ > w:a', 'w:b > f:in', 'f:out > load:+'])).toBeUndefined()
    expect(found({ f: device(10, 'breaker'), w }, ['bat:+ > w:a', 'w:b > f:in', 'f:out > load:+'])).toBeUndefined()
  })
  test('a device further on for one load and none for the other', () => {
    const finding = found({ f: device(10), w, other: draws(1) }, [
      'bat:+ > w:a',
      'w:b > f:in',
      'f:out > load:+',
      'w:b > other:+',
      'other:- > bat:-',
    ])
    expect(finding).toMatchObject({ verdict: 'over', value: null })
  })
  test('a contact further on is no device', () => {
    expect(found({ s: ['switch', { rated_A: 20 }], w }, ['bat:+ > w:a', 'w:b > s:in', 's:out > load:+'])?.verdict).toBe('over')
  })
  test('the starter’s lead is exempt (33 CFR 183.455, read), and only that', () => {
    expect(found({ w, load: draws(200, { starter: true }) }, ['bat:+ > w:a', 'w:b > load:+'])).toBeUndefined()
  })
  test('a return is not judged here; a spare behind a fuse is, live as it is: 80 A on 50.6 A is 158 %', () => {
    expect(found({ f: device(80), w, g: draws(1) }, ['bat:+ > f:in', 'f:out > g:+', 'g:- > w:a', 'w:b > bat:-'])).toBeUndefined()
    expect(found({ f: device(80), w }, ['bat:+ > f:in', 'f:out > load:+', 'f:out > w:a'])?.verdict).toBe('over')
    expect(found({ f: device(50), w }, ['bat:+ > f:in', 'f:out > load:+', 'f:out > w:a'])?.verdict).toBe('clear')
  })
  // A converter gives no more than its output: 40 A and 55 A against 50.6 A; with a 30 A fuse behind it the fuse counts.
  test('what a converter gives at most protects like a device', () => {
    const converter = (ratings: Ratings): Parts => ({ dc: ['converter', { output_V: 5, efficiency: 0.9, ...ratings }], w, f: device(30) })
    const feed = ['bat:+ > dc:in', 'dc:- > bat:-']
    const bare = [...feed, 'dc:out > w:a', 'w:b > load:+']
    expect(found(converter({ output_A: 40 }), bare)).toMatchObject({ verdict: 'clear', value: 40 })
    expect(found(converter({ output_A: 55 }), bare)).toMatchObject({ verdict: 'tight', value: 55 })
    expect(found(converter({ output_A: 76 }), bare)?.verdict).toBe('over')
    expect(found(converter({}), bare)).toMatchObject({ verdict: 'unknown', missing: ['output current of dc'] })
    const fused = [...feed, 'dc:out > f:in', 'f:out > w:a', 'w:b > load:+']
    expect(found(converter({ output_A: 76 }), fused)).toMatchObject({ verdict: 'clear', value: 30 })
  })
  // 4 mm² bears 50.62 A, 150 % is 75.93 A: the fuse at the second battery's end guards nothing at the first one's.
  test('an alternator’s lead bare at one battery stays tight, however well a second one is fused', () => {
    const lead = (rated_A: number) =>
      found({ alt: ['alternator', { setPoint_V: 14.4, output_A: 60 }], aux: battery(12, 0.01), f: device(rated_A), w }, [
        'alt:+ > w:a',
        'w:b > bat:+',
        'alt:- > bat:-',
        'aux:+ > f:in',
        'f:out > bat:+',
        'aux:- > bat:-',
        'bat:+ > load:+',
      ])
    for (const rated_A of [10, 50, 75]) {
      expect(lead(rated_A)).toMatchObject({ verdict: 'tight', value: null })
      expect(lead(rated_A)?.says).toBe('w has no fuse or breaker at the end of bat.')
    }
    expect(lead(80)).toMatchObject({ verdict: 'over', value: 80 })
  })
  test('near the post of one battery its unfused length counts, whatever feeds it from the other', () => {
    const parts: Parts = { aux: battery(12, 0.01), fa: device(100), fb: device(20), w: [w[0], w[1], { ...w[2], length_m: 0.1 }] }
    const joins = ['aux:+ > w:a', 'w:b > fb:in', 'fb:out > load:+', 'bat:+ > fa:in', 'fa:out > w:b', 'aux:- > bat:-']
    expect(found(parts, joins)).toBeUndefined()
  })
  test('an alternator limits its own current: its lead is judged from the battery’s side alone', () => {
    const alternator: Parts = { alt: ['alternator', { setPoint_V: 14.4, output_A: 60 }], f: device(10), w }
    const joins = ['alt:+ > w:a', 'w:b > load:+', 'alt:- > bat:-', 'load:+ > f:out', 'f:in > bat:+']
    expect(found(alternator, joins, [running])?.verdict).toBe('clear')
  })
  test('is judged once, in the first condition', () => {
    const finding = found({ f: device(80), w }, ['bat:+ > f:in', 'f:out > w:a', 'w:b > load:+'], [off, { ...off, key: 'p', on: [] }])
    expect(finding?.condition).toBe('o')
  })
})
