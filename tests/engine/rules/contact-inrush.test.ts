/** What a contact makes as it closes: the inrush of what hangs on it. By hand and by a published row. */
import { describe, expect, test } from 'vitest'
import type { Condition, Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, type Parts, wiring } from '../solve/wiring.ts'
import { vehicle } from '../vehicle-builder.ts'
import { judged } from './judged.ts'

const relay = (ratings: Ratings): Parts[string] => ['relay', { rated_V: 16, ...ratings }]
const on = (contact: Parts[string], loads: readonly Parts[string][], conditions: readonly Condition[] = [off]) => {
  const [way, out] = contact[0] === 'relay' ? ['30', '87'] : ['in', 'out']
  return wiring({
    parts: { bat: battery(12, 0.001), k: contact, ...Object.fromEntries(loads.map((load, n) => [`load${n}`, load])) },
    joins: [`bat:+ > k:${way}`, ...loads.flatMap((_, n) => [`k:${out} > load${n}:+`, `load${n}:- > bat:-`])],
    conditions,
  })
}
const judge = (document: VehicleDocument, contact = 'k') => judged(document, 'contact-inrush', contact)
const lamp = (current_A: number) => draws(current_A, { nature: 'lamp' })

// Two lamps of 4.6 A on a relay of 240 A making current: 10 × 9.2 = 92 A passes (lamp multiple and relay sheet as transcribed, read).
test('two H7 lamps make 92 A of 240 A', () => {
  const found = judge(on(relay({ make_A: 70, inrush_A: 240 }), [lamp(4.6), lamp(4.6)]))
  expect(found).toMatchObject({ verdict: 'clear', limit: 240, unit: 'A', missing: [] })
  expect(found?.value).toBeCloseTo(92, 9)
  expect(found?.names).toEqual(['inrush of load0', 'inrush of load1', 'making current'])
  expect(found?.units).toEqual(['A', 'A', 'A'])
  expect(found?.number('inrush of load0')).toBeCloseTo(46, 9)
  expect(found?.number('inrush of load1')).toBeCloseTo(46, 9)
  expect(found?.figure('making current')).toBe(240)
  expect(found?.says).toBe('k makes 92 A of its 240 A making current (off).')
})

describe('a making current of 100 A', () => {
  test.each([
    ['8 A of lamps: 80 A, 80 %', 8, 'clear'],
    ['8.01 A', 8.01, 'tight'],
    ['10 A: at the limit', 10, 'tight'],
    ['10.01 A', 10.01, 'over'],
  ])('%s', (_, current_A, verdict) => {
    const found = judge(on(relay({ make_A: 5, inrush_A: 100 }), [lamp(current_A)]))
    expect(found).toMatchObject({ verdict, limit: 100, tightAbove: 0.8, missing: [] })
    expect(found?.value).toBeCloseTo(10 * current_A, 9)
  })
  test('a motor makes six times, a heater and a coil once, a stated figure as stated', () => {
    const value = (ratings: Ratings) => judge(on(relay({ inrush_A: 100 }), [draws(5, ratings)]))?.value as number
    expect(value({ nature: 'motor' })).toBeCloseTo(30, 9)
    expect(value({ nature: 'resistive' })).toBeCloseTo(5, 9)
    expect(value({ nature: 'inductive' })).toBeCloseTo(5, 9)
    expect(value({ nature: 'lamp', inrush_A: 75 })).toBeCloseTo(75, 9)
    expect(value({ nature: 'lamp', inrush_A: 2 })).toBeCloseTo(5, 9)
  })
  test('an inrush that is not known: named, unless forty times is within it; over stands', () => {
    const electronic = (current_A: number) => draws(current_A, { nature: 'electronic' })
    expect(judge(on(relay({ inrush_A: 100 }), [electronic(2.5)]))).toMatchObject({ verdict: 'clear', value: 2.5, missing: [] })
    const found = judge(on(relay({ inrush_A: 100 }), [electronic(2.51)]))
    expect(found).toMatchObject({ verdict: 'unknown', missing: ['inrush of load0'] })
    expect(found?.figure('inrush of load0')).toBeNull()
    expect(judge(on(relay({ inrush_A: 100 }), [electronic(3), lamp(9)]))).toMatchObject({
      verdict: 'unknown',
      missing: ['inrush of load0'],
    })
    // 98 A of the lamp and at least 3 A.
    const over = judge(on(relay({ inrush_A: 100 }), [electronic(3), lamp(9.8)]))
    expect(over?.verdict).toBe('over')
    expect(over?.value).toBeCloseTo(101, 9)
    // Of both together forty times has to be within it.
    expect(judge(on(relay({ inrush_A: 100 }), [electronic(1.3), electronic(1.3)]))?.verdict).toBe('unknown')
    expect(judge(on(relay({ inrush_A: 100 }), [electronic(1.2), electronic(1.3)]))?.verdict).toBe('clear')
    expect(judge(on(relay({ inrush_A: 100 }), [['load', { rated_V: 12 }]]))).toMatchObject({
      verdict: 'unknown',
      missing: ['inrush of load0'],
    })
  })
})

describe('no making current stated', () => {
  test('a relay makes what it carries', () => {
    const found = judge(on(relay({ make_A: 30 }), [lamp(3)]))
    expect(found).toMatchObject({ verdict: 'clear', limit: 30, tightAbove: null, missing: [] })
    expect(found?.value).toBeCloseTo(30, 9)
    expect(found?.figure('carry current')).toBe(30)
    expect(found?.says).toBe('k makes 30 A of its 30 A carry current (off).')
  })
  test('more than that: its making current is needed', () => {
    const found = judge(on(relay({ make_A: 30 }), [lamp(3.01)]))
    expect(found).toMatchObject({ verdict: 'unknown', limit: 30, missing: ['making current'] })
    expect(found?.remedy).toBe('Find out: making current.')
  })
  test('nor what it carries', () => {
    const found = judge(on(relay({}), [lamp(1)]))
    expect(found).toMatchObject({ verdict: 'unknown', limit: null, missing: ['making current'] })
    expect(found?.figure('carry current')).toBeNull()
    expect(judge(on(relay({}), [draws(1, { nature: 'electronic' })]))?.missing).toEqual(['making current', 'inrush of load0'])
  })
  test('an inrush that is not known, with what it carries only', () => {
    expect(judge(on(relay({ make_A: 30 }), [draws(0.75, { nature: 'electronic' })]))).toMatchObject({ verdict: 'clear' })
    expect(judge(on(relay({ make_A: 30 }), [draws(0.76, { nature: 'electronic' })]))).toMatchObject({
      verdict: 'unknown',
      missing: ['inrush of load0'],
    })
  })
  test('a switch is left to the factor for its load’s nature', () => {
    expect(judge(on(['switch', { rated_A: 5, rated_V: 16 }], [lamp(1)]))).toBeUndefined()
  })
})

test('a switch that states one is judged by it', () => {
  const found = judge(on(['switch', { rated_A: 20, inrush_A: 40, rated_V: 16 }], [lamp(5)]))
  expect(found).toMatchObject({ verdict: 'over', limit: 40 })
  expect(found?.value).toBeCloseTo(50, 9)
})

describe('whose inrush counts', () => {
  test('only what is on, and in the worst condition', () => {
    const lit: Condition = { key: 'l', name: 'lit', engine: 'off', on: ['load1'] }
    const none: Condition = { key: 'n', name: 'none', engine: 'off', on: [] }
    const document = (conditions: readonly Condition[]) => on(relay({ make_A: 30, inrush_A: 100 }), [lamp(5), lamp(4)], conditions)
    expect(judge(document([none]))).toBeUndefined()
    expect(judge(document([none, lit]))).toMatchObject({ verdict: 'clear', value: 40, condition: 'l' })
    expect(judge(document([none, lit, off]))).toMatchObject({ verdict: 'tight', value: 90, condition: 'o' })
  })
  test('a contact further on makes its own loads', () => {
    const document = wiring({
      parts: { bat: battery(12, 0.001), main: relay({ inrush_A: 100 }), k: relay({ inrush_A: 100 }), a: lamp(5), b: lamp(2) },
      joins: ['bat:+ > main:30', 'main:87 > k:30', 'main:87 > b:+', 'k:87 > a:+', 'a:- > bat:-', 'b:- > bat:-'],
      conditions: [off],
    })
    expect(judge(document)?.value).toBeCloseTo(50, 9)
    expect(judge(document, 'main')?.value).toBeCloseTo(20, 9)
  })
  test('a changeover relay at rest makes nothing', () => {
    const document = (key: string) =>
      wiring({
        parts: { bat: battery(12, 0.001), k: relay({ make_A: 40, inrush_A: 100 }), a: lamp(5), b: lamp(8) },
        joins: ['bat:+ > k:30', 'k:87 > a:+', 'k:87a > b:+', 'a:- > bat:-', 'b:- > bat:-'],
        conditions: [{ key: 'o', name: 'off', engine: 'off', on: [key] }],
      })
    expect(judge(document('a'))?.value).toBeCloseTo(50, 9)
    expect(judge(document('b'))).toBeUndefined()
  })
  test('two outputs of one switch add', () => {
    const document = wiring({
      parts: { bat: battery(12, 0.001), k: ['switch', { rated_A: 20, inrush_A: 100, rated_V: 16 }], a: lamp(5), b: lamp(4) },
      joins: ['bat:+ > k:in', 'k:out > a:+', 'k:out2 > b:+', 'a:- > bat:-', 'b:- > bat:-'],
      conditions: [off],
    })
    expect(judge(document)).toMatchObject({ verdict: 'tight', value: 90 })
  })
  test('a switch in a relay’s coil makes the coil’s current, not what the relay carries', () => {
    const document = wiring({
      parts: {
        bat: battery(12, 0.001),
        k: ['switch', { rated_A: 5, inrush_A: 1, rated_V: 16, contactResistance_ohm: 0.001 }],
        r: relay({ make_A: 70, inrush_A: 240, coil_ohm: 80 }),
        load: draws(30, { nature: 'resistive' }),
      },
      joins: ['bat:+ > k:in', 'k:out > r:86', 'r:85 > bat:-', 'bat:+ > r:30', 'r:87 > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    const found = judge(document)
    // (12 V − 30.15 A · 1 mΩ) / 80.001 Ω = 0.1496 A.
    expect(found?.verdict).toBe('clear')
    expect(found?.value).toBeCloseTo((12 - 30.15 * 0.001) / 80.001, 5)
    expect(judge(document, 'r')?.value).toBeCloseTo(30, 6)
  })
})

test('evidence is the poorer of the contact’s and the inrush’s', () => {
  const made = (contact: Ratings, load: Ratings) =>
    judged(
      vehicle({ relay: { rated_V: 16, ...contact }, load: { behaviour: 'current', rated_V: 12, current_A: 2, ...load } }),
      'contact-inrush',
      'r1',
    )
  expect(made({ inrush_A: 100 }, { inrush_A: 20 })).toMatchObject({ verdict: 'clear', value: 20, evidence: 'datasheet' })
  expect(made({ inrush_A: 100 }, { nature: 'lamp' })).toMatchObject({ verdict: 'clear', evidence: 'typical' })
  expect(made({}, { inrush_A: 20 })).toMatchObject({ verdict: 'unknown', evidence: 'assumed' })
})
