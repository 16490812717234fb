import { describe, expect, test } from 'vitest'
import { checkVehicle } from '../../../server/engine/rules/check.ts'
import { battery, draws, type Parts, wiring } from '../solve/wiring.ts'

const found = (nominal_V: number, ratings: Readonly<Record<string, number>>, given: { kind?: string; maximum_V?: number } = {}) => {
  const kind = given.kind ?? 'fuse'
  const [from, to] = kind === 'relay' ? ['30', '87'] : ['in', 'out']
  const document = wiring({
    parts: {
      bat: ['battery', { nominal_V, openCircuit_V: nominal_V, internalResistance_ohm: 0.01 }],
      p: [kind, ratings],
      load: draws(1),
    } satisfies Parts,
    joins: [`bat:+ > p:${from}`, `p:${to} > load:+`, 'load:- > bat:-'],
  })
  const vehicle = { ...document.vehicle, ...(given.maximum_V === undefined ? {} : { maximum_V: given.maximum_V }) }
  return checkVehicle({ ...document, vehicle }).findings.find((one) => one.rule === 'rated-voltage' && one.component === 'p')
}

// ISO 8820 scope clauses (read) name 32 V and 58 V classes; the highest voltage of 6, 12, 24 and 48 V systems: 8, 16, 32, 54 V.
describe('rated-voltage', () => {
  test.each<[string, number, number, string]>([
    ['6 V system, 8 V part', 6, 8, 'clear'],
    ['6 V system, 7.9 V part', 6, 7.9, 'over'],
    ['8 V system counts as 12 V: 15 V part', 8, 15, 'over'],
    ['12 V system, 16 V part', 12, 16, 'clear'],
    ['16 V system, 16 V part', 16, 16, 'clear'],
    ['18 V system counts as 24 V: 16 V part', 18, 16, 'over'],
    ['24 V system, 32 V part', 24, 32, 'clear'],
    ['24 V system, 31 V part', 24, 31, 'over'],
    ['32 V system, 32 V part', 32, 32, 'clear'],
    ['36 V system counts as 48 V: 53 V part', 36, 53, 'over'],
    ['48 V system, 54 V part', 48, 54, 'clear'],
    ['48 V system, 53 V part', 48, 53, 'over'],
  ])('%s', (_, nominal_V, rated_V, verdict) => {
    expect(found(nominal_V, { rated_A: 10, rated_V })?.verdict).toBe(verdict)
  })

  test('the vehicle’s own highest voltage goes before the system’s', () => {
    expect(found(12, { rated_A: 10, rated_V: 16 }, { maximum_V: 17 })?.verdict).toBe('over')
    expect(found(12, { rated_A: 10, rated_V: 15 }, { maximum_V: 15 })?.verdict).toBe('clear')
  })

  test.each(['fuse', 'breaker', 'relay', 'switch'])('a %s of unknown rated voltage', (kind) => {
    expect(found(12, {}, { kind })).toMatchObject({ verdict: 'unknown', missing: ['rated voltage'] })
  })

  test('is judged once, in the first condition', () => {
    const document = wiring({
      parts: { bat: battery(12, 0.01), p: ['fuse', { rated_A: 10, rated_V: 32 }], load: draws(1) },
      joins: ['bat:+ > p:in', 'p:out > load:+', 'load:- > bat:-'],
      conditions: ['1', '2'].map((key) => ({ key, name: key, engine: 'off' as const })),
    })
    expect(checkVehicle(document).findings.find((one) => one.rule === 'rated-voltage')?.condition).toBe('1')
  })
})
