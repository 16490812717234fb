import { describe, expect, test } from 'vitest'
import { checkVehicle } from '../../../server/engine/rules/check.ts'
import type { Ratings } from '../../../server/engine/vehicle.ts'
import { battery, draws, type Parts, wiring } from '../solve/wiring.ts'

const found = (parts: Parts, joins: readonly string[]) =>
  checkVehicle(wiring({ parts: { bat: battery(12.6, 0.001), ...parts }, joins })).findings.find(
    (one) => one.rule === 'way-load' && one.component === 'it',
  )
// Outputs of 10 A and 20 A; 30 A come in, which no output carries.
const moduleOf = (ratings: Ratings) =>
  found({ it: ['module', ratings], a: draws(10), b: draws(20) }, [
    'bat:+ > it:in',
    'it:out1 > a:+',
    'it:out2 > b:+',
    'a:- > bat:-',
    'b:- > bat:-',
  ])

describe('way-load', () => {
  test.each<[string, Ratings, string]>([
    ['an output of 20 A of 25 A', { channel_A: 25 }, 'clear'],
    ['an output of 20 A of 24 A', { channel_A: 24 }, 'tight'],
    ['an output of 20 A of 19.9 A', { channel_A: 19.9 }, 'over'],
    ['outputs of unknown rating', {}, 'unknown'],
  ])('%s', (_, ratings, verdict) => {
    expect(moduleOf(ratings)?.verdict).toBe(verdict)
    expect(moduleOf(ratings)?.value).toBeCloseTo(20, 6)
  })
  test('a load of unknown current on a block', () => {
    const dark = found({ it: ['block', { way_A: 30 }], a: draws(10), dark: ['load', { rated_V: 12 }] }, [
      'bat:+ > it:in',
      'it:1 > a:+',
      'it:2 > dark:+',
      'a:- > bat:-',
      'dark:- > bat:-',
    ])
    expect(dark).toMatchObject({ verdict: 'unknown', missing: ['current of dark'] })
  })
  // The converter can give 2 A; 3 A have no working point.
  test('with no working point a way is unknown; a block nothing is joined to is not judged', () => {
    const parts: Parts = {
      it: ['block', { way_A: 30 }],
      dc: ['converter', { output_V: 5, output_A: 2, efficiency: 0.9 }],
      big: draws(3),
    }
    const ways = ['bat:+ > it:in', 'it:1 > dc:in']
    const rest = ['dc:- > bat:-', 'dc:out > big:+', 'big:- > bat:-']
    expect(found(parts, [...ways, ...rest])).toMatchObject({ verdict: 'unknown', missing: ['a working point in this condition'] })
    expect(found(parts, ['bat:+ > dc:in', ...rest])).toBeUndefined()
  })
})
