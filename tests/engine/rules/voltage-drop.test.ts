import { describe, expect, test } from 'vitest'
import { checkVehicle } from '../../../server/engine/rules/check.ts'
import type { Condition, Ratings } from '../../../server/engine/vehicle.ts'
import { battery, draws, ohms, type Parts, wiring } from '../solve/wiring.ts'

// Drop = 10 A · R of one wire, of 10 % of 12 V = 1.2 V, essential 3 % = 0.36 V (ABYC E-11 as reprinted, ISO 10133, read).
const found = (
  ohm: number,
  more: Ratings,
  given: { parts?: Parts; joins?: readonly string[]; on?: readonly string[]; kind?: string } = {},
) => {
  const [, ratings] = draws(10, more) as Parts[string]
  const condition: Condition = { key: 'o', name: 'off', engine: 'off', ...(given.on ? { on: given.on } : {}) }
  return checkVehicle(
    wiring({
      parts: { bat: battery(12.6, 0.001), w: ohms(ohm), load: [given.kind ?? 'load', ratings], ...given.parts },
      joins: ['bat:+ > w:a', 'load:- > bat:-', ...(given.joins ?? ['w:b > load:+'])],
      conditions: [condition],
    }),
  ).findings.find((one) => one.rule === 'voltage-drop' && one.component === 'load')
}
const hollow = { parts: { v: ['conductor', {}, { length_m: 1 }] } satisfies Parts, joins: ['w:b > v:a', 'v:b > load:+'] }

describe('voltage-drop', () => {
  test.each<[string, number, Ratings, string]>([
    ['essential: 0.28 V of 0.36 V, 78 %', 0.028, { essential: true }, 'clear'],
    ['essential: 0.3 V of 0.36 V, 83 %', 0.03, { essential: true }, 'tight'],
    ['essential: 0.37 V of 0.36 V', 0.037, { essential: true }, 'over'],
    ['not essential: 0.37 V of 1.2 V', 0.037, {}, 'clear'],
  ])('%s', (_, ohm, more, verdict) => {
    expect(found(ohm, more)?.verdict).toBe(verdict)
  })
  test('a resistance not known can only add: past the allowance already, it stays over', () => {
    expect(found(0.13, {}, hollow)?.verdict).toBe('over')
    expect(found(0.05, {}, hollow)).toMatchObject({ verdict: 'unknown', missing: ['resistance of v'] })
  })
  test('a load of unknown current on the same way', () => {
    const given = { parts: { dark: ['load', { rated_V: 12 }] } satisfies Parts, joins: ['w:b > load:+', 'w:b > dark:+', 'dark:- > bat:-'] }
    expect(found(0.05, {}, given)).toMatchObject({ verdict: 'unknown', missing: ['current of dark'] })
  })
  test('a pump is judged alike; a starter and what is off are not', () => {
    expect(found(0.13, {}, { kind: 'pump' })?.verdict).toBe('over')
    expect(found(0.13, { starter: true }, { on: ['load'] })).toBeUndefined()
    expect(found(0.13, {}, { on: [] })).toBeUndefined()
  })
})
