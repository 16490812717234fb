import { describe, expect, test } from 'vitest'
import { checkVehicle } from '../../../server/engine/rules/check.ts'
import type { Ratings } from '../../../server/engine/vehicle.ts'
import { battery, draws, ohms, type Parts, wiring } from '../solve/wiring.ts'

// 12 V − 10 A · (0.001 Ω + 0.199 Ω) = 10 V at the load, and less where more is lost.
const found = (
  minimum_V: number,
  more: Parts,
  joins: readonly string[] = ['w:b > load:+'],
  load: Parts[string] = draws(10, { minimum_V }),
) =>
  checkVehicle(
    wiring({ parts: { bat: battery(12, 0.001), w: ohms(0.199), load, ...more }, joins: ['bat:+ > w:a', 'load:- > bat:-', ...joins] }),
  ).findings.find((one) => one.rule === 'load-voltage' && one.component === 'load')
const hollow: Parts = { v: ['conductor', {}, { length_m: 1 }] }
const dark: Parts = { dark: ['load', { rated_V: 12 }] }

describe('load-voltage', () => {
  test('a resistance not known can only take more: below the lowest already, it stays over', () => {
    expect(found(10.5, hollow, ['w:b > v:a', 'v:b > load:+'])?.verdict).toBe('over')
    expect(found(9, hollow, ['w:b > v:a', 'v:b > load:+'])).toMatchObject({ verdict: 'unknown', missing: ['resistance of v'] })
  })
  test('a load of unknown current on the same way', () => {
    expect(found(9, dark, ['w:b > load:+', 'w:b > dark:+', 'dark:- > bat:-'])).toMatchObject({
      verdict: 'unknown',
      missing: ['current of dark'],
    })
  })
  test('a pump is judged alike', () => {
    const pump: Parts[string] = ['pump', { behaviour: 'current', current_A: 10, rated_V: 12, minimum_V: 10.5 } satisfies Ratings]
    expect(found(0, {}, ['w:b > load:+'], pump)?.verdict).toBe('over')
  })
  // 10 A back through 0.1 Ω: the minus post stands at 1 V, so that 9 V are left of 10 V.
  test('the volts lost on the return count', () => {
    const document = wiring({
      parts: { bat: battery(12, 0.001), w: ohms(0.199), g: ohms(0.1), load: draws(10, { minimum_V: 9.5 }) },
      joins: ['bat:+ > w:a', 'w:b > load:+', 'load:- > g:a', 'g:b > bat:-'],
    })
    expect(checkVehicle(document).findings.find((one) => one.rule === 'load-voltage')?.verdict).toBe('over')
  })
})
