import { describe, expect, test } from 'vitest'
import { checkVehicle } from '../../../server/engine/rules/check.ts'
import type { Ratings } from '../../../server/engine/vehicle.ts'
import { battery, draws, type Parts, wiring } from '../solve/wiring.ts'

const found = (parts: Parts, joins: readonly string[], on?: readonly string[]) =>
  checkVehicle(
    wiring({
      parts: { bat: battery(12.6, 0.001), ...parts },
      joins,
      conditions: [{ key: 'o', name: 'off', engine: 'off', ...(on ? { on } : {}) }],
    }),
  ).findings.find((one) => one.rule === 'contact-load' && one.component === 'it')

// A changeover relay: the load on its break contact is fed while nothing asks for the make contact, and the other way round.
const changeover = (ratings: Ratings, [make_A, break_A]: readonly [number, number], on: 'm' | 'b') =>
  found(
    { it: ['relay', ratings], m: draws(make_A), b: draws(break_A) },
    ['bat:+ > it:30', 'it:87 > m:+', 'it:87a > b:+', 'm:- > bat:-', 'b:- > bat:-'],
    [on],
  )

describe('contact-load of a relay', () => {
  const both = { make_A: 40, break_A: 10 }
  test.each<[string, number, string]>([
    ['break contact 8 A of 10 A', 8, 'clear'],
    ['break contact 8.1 A of 10 A', 8.1, 'tight'],
    ['break contact 10 A of 10 A', 10, 'tight'],
    ['break contact 10.1 A of 10 A', 10.1, 'over'],
  ])('%s', (_, current_A, verdict) => {
    expect(changeover(both, [5, current_A], 'b')?.verdict).toBe(verdict)
  })
  test('make contact 41 A of 40 A, the break contact idle', () => expect(changeover(both, [41, 5], 'm')?.verdict).toBe('over'))
  test('the contact in use has no rating: named', () => {
    expect(changeover({ make_A: 40 }, [5, 5], 'b')).toMatchObject({ verdict: 'unknown', missing: ['carry current of the break contact'] })
    expect(changeover({ break_A: 10 }, [5, 5], 'm')).toMatchObject({ verdict: 'unknown', missing: ['carry current of the make contact'] })
  })
  test('a contact of unknown rating that carries half an ampere', () => {
    expect(changeover({ make_A: 40 }, [5, 0.5], 'b')).toMatchObject({ verdict: 'unknown', missing: ['carry current of the break contact'] })
  })
  test('an idle break contact of unknown rating', () => {
    expect(changeover({ make_A: 40 }, [4.8, 5], 'm')?.verdict).toBe('clear')
    // However little the other carries, one that carries nothing is within any rating.
    expect(changeover({ make_A: 40 }, [3.2, 5], 'm')?.verdict).toBe('clear')
  })
  test('a load of unknown current behind it', () => {
    const dark = found({ it: ['relay', { make_A: 40 }], a: draws(5), dark: ['load', { rated_V: 12 }] }, [
      'bat:+ > it:30',
      'it:87 > a:+',
      'it:87 > dark:+',
      'a:- > bat:-',
      'dark:- > bat:-',
    ])
    expect(dark).toMatchObject({ verdict: 'unknown', missing: ['current of dark'] })
  })
})

// Relay sheet as transcribed (read): 70 A at 23 °C, 50 A at 85 °C. Rows in any order.
describe('contact-load by a curve', () => {
  const curve = [
    { ambient_degC: 85, current_A: 50 },
    { ambient_degC: 23, current_A: 70 },
  ]
  const curved = (current_A: number, ambient_degC: number | null) => {
    const given = {
      parts: {
        bat: battery(12.6, 0.001),
        it: ['relay', { make_A: 40, makeByAmbient: curve }, ambient_degC === null ? {} : { zone: 'z' }] as Parts[string],
        load: draws(current_A),
      },
      joins: ['bat:+ > it:30', 'it:87 > load:+', 'load:- > bat:-'],
    }
    const document = wiring(ambient_degC === null ? given : { ...given, ambient_degC })
    return checkVehicle(document).findings.find((one) => one.rule === 'contact-load')
  }
  test.each<[string, number, number | null, string]>([
    ['ambient not known, 69 A: within the curve’s best, so not known', 69, null, 'unknown'],
    ['hotter than the curve goes, 49 A: within its last figure, so not known', 49, 90, 'unknown'],
    ['colder than the curve begins, 56 A of 70 A: 80 %', 56, 10, 'clear'],
    ['colder than the curve begins, 71 A', 71, 10, 'over'],
    ['at the last row, 50.1 A of 50 A', 50.1, 85, 'over'],
  ])('%s', (_, current_A, ambient_degC, verdict) => {
    expect(curved(current_A, ambient_degC)?.verdict).toBe(verdict)
  })
})

// FAA AC 43.13-1B Table 11-4 at 12 V (read): lamp 5, resistive 1.
describe('contact-load of a switch', () => {
  const switched = (loads: Parts, ways: readonly string[] = Object.keys(loads).map((key) => `it:out > ${key}:+`)) =>
    found({ it: ['switch', { rated_A: 20, rated_V: 16 }], ...loads }, [
      'bat:+ > it:in',
      ...ways,
      ...Object.keys(loads).map((key) => `${key}:- > bat:-`),
    ])
  test('lamp 4.1 A: used as for 20.5 A, tight past 20 A and no more', () => {
    const finding = switched({ a: draws(4.1, { nature: 'lamp' }) })
    expect(finding).toMatchObject({ verdict: 'tight', limit: 20, tightAbove: 1 })
    expect(finding?.value).toBeCloseTo(20.5, 6)
  })
  test('nature not stated, 12 A: not tight by its current, but a lamp would not do', () => {
    expect(switched({ a: draws(12) })).toMatchObject({ verdict: 'unknown', missing: ['nature of a'] })
  })
  test('a resistive load and one of unknown nature, 3 A together: five times that is within 20 A', () => {
    expect(switched({ a: draws(1, { nature: 'resistive' }), b: draws(2) })?.verdict).toBe('clear')
  })
  test('a load of unknown current', () => {
    expect(switched({ a: draws(5, { nature: 'resistive' }), dark: ['load', { rated_V: 12, nature: 'resistive' }] })).toMatchObject({
      verdict: 'unknown',
      missing: ['current of dark'],
    })
  })
  test('of two contacts the one that carries more', () => {
    const loads = { a: draws(5, { nature: 'resistive' }), b: draws(21, { nature: 'resistive' }) }
    expect(switched(loads, ['it:out > a:+', 'it:out2 > b:+'])?.verdict).toBe('over')
    expect(switched(loads, ['it:out > b:+', 'it:out2 > a:+'])?.verdict).toBe('over')
  })
})
