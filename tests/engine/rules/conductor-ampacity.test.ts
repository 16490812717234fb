import { describe, expect, test } from 'vitest'
import { checkVehicle } from '../../../server/engine/rules/check.ts'
import type { Condition } from '../../../server/engine/vehicle.ts'
import { battery, draws, type Parts, wiring } from '../solve/wiring.ts'

// 4 mm² of 105 °C at 30 °C: 50.62 A (33 CFR 183.425 Table 5, read; worked out in rules.test.ts).
const wire: Parts[string] = ['conductor', { material: 'copper', crossSection_mm2: 4, insulation_degC: 105 }, { length_m: 1, zone: 'z' }]
const joins = ['bat:+ > w:a', 'w:b > load:+', 'load:- > bat:-']
const found = (parts: Parts, more: readonly string[] = [], conditions: readonly Condition[] = []) =>
  checkVehicle(
    wiring({ parts: { bat: battery(12.6, 0.001), w: wire, ...parts }, joins: [...joins, ...more], conditions, ambient_degC: 30 }),
  ).findings.find((one) => one.rule === 'conductor-ampacity' && one.component === 'w')

describe('conductor-ampacity', () => {
  test('insulation not known: named', () => {
    const bare: Parts[string] = ['conductor', { material: 'copper', crossSection_mm2: 4 }, { length_m: 1, zone: 'z' }]
    expect(found({ w: bare, load: draws(10) })).toMatchObject({ verdict: 'unknown', missing: ['insulation temperature rating'] })
  })
  test('a load of unknown current behind it: 10 A at least', () => {
    const given = { load: draws(10), dark: ['load', { rated_V: 12 }] } satisfies Parts
    expect(found(given, ['w:b > dark:+', 'dark:- > bat:-'])).toMatchObject({ verdict: 'unknown', missing: ['current of dark'] })
  })
  // Cranking motor conductors are exempt (33 CFR 183.425, read): while cranking, and no others.
  test('the starter’s own lead at 200 A', () => {
    const starter = draws(200, { starter: true })
    expect(found({ load: starter }, [], [{ key: 'c', name: 'cranking', engine: 'cranking' }])).toBeUndefined()
    expect(found({ load: starter }, [], [{ key: 'o', name: 'off', engine: 'off', on: ['load'] }])?.verdict).toBe('over')
  })
  test('another lead while cranking', () => {
    const cranking: Condition = { key: 'c', name: 'cranking', engine: 'cranking', on: ['load'] }
    expect(found({ load: draws(60) }, [], [cranking])?.verdict).toBe('over')
  })
})
