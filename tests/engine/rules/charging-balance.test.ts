import { describe, expect, test } from 'vitest'
import { checkVehicle } from '../../../server/engine/rules/check.ts'
import type { EngineState, Ratings } from '../../../server/engine/vehicle.ts'
import { battery, draws, type Parts, wiring } from '../solve/wiring.ts'

const ALTERNATOR: Ratings = { setPoint_V: 14.4, output_A: 50, idleOutput_A: 20 }
const found = (load: Parts[string], engine: EngineState, given: { alt?: Ratings; capacity_Ah?: number } = {}) => {
  const [kind, ratings] = battery(12.6, 0.01) as Parts[string]
  return checkVehicle(
    wiring({
      parts: {
        bat: [kind, { ...ratings, ...(given.capacity_Ah === undefined ? {} : { capacity_Ah: given.capacity_Ah }) }],
        alt: ['alternator', given.alt ?? ALTERNATOR],
        load,
      },
      joins: ['alt:+ > bat:+', 'alt:- > bat:-', 'bat:+ > load:+', 'load:- > bat:-'],
      conditions: [{ key: 'c', name: 'c', engine }],
    }),
  ).findings.find((one) => one.rule === 'charging-balance')
}

describe('charging-balance', () => {
  test('a load of unknown current may want more', () => {
    expect(found(['load', { rated_V: 12 }], 'running')).toMatchObject({ verdict: 'unknown', missing: ['current of load'] })
  })
  test('with the engine off or cranking there is nothing to balance', () => {
    expect([found(draws(30), 'off'), found(draws(30, { essential: true }), 'cranking')]).toEqual([undefined, undefined])
  })
  test('output at idle not known: named', () => {
    expect(found(draws(5), 'idle', { alt: { setPoint_V: 14.4, output_A: 50 } })).toMatchObject({
      verdict: 'unknown',
      missing: ['output at idle'],
    })
  })
  // A capacity not known halves in no time that could be told: at idle that stays at most tight.
  test('at idle 40 A short with a battery of unknown capacity', () => expect(found(draws(60), 'idle')?.verdict).toBe('tight'))
  // Half of 1 Ah is 0.5 A for an hour: 0.6 A short is more than that, 0.4 A is not.
  test('a battery of 1 Ah', () => {
    expect(found(draws(20.6), 'idle', { capacity_Ah: 1 })?.verdict).toBe('over')
    expect(found(draws(20.4), 'idle', { capacity_Ah: 1 })?.verdict).toBe('tight')
  })
})
