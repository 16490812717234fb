import { describe, expect, test } from 'vitest'
import { compareFindings } from '../../../server/engine/compare.ts'
import { checkVehicle } from '../../../server/engine/rules/check.ts'
import { rules } from '../../../server/engine/rules/index.ts'
import type { Ratings } from '../../../server/engine/vehicle.ts'
import { finding, type Given, vehicle } from '../vehicle-builder.ts'

const draws = (current_A: number, more: Ratings = {}): Ratings => ({ behaviour: 'current', current_A, rated_V: 12, ...more })
const rows = (rule: string, component: string, cases: readonly (readonly [string, Given, string])[]) =>
  describe(rule, () => {
    test.each(cases)('%s', (_, given, verdict) => {
      expect(finding(vehicle(given), rule, component)?.verdict).toBe(verdict)
    })
  })

// 4 mm² lies between 12 AWG (3.3088 mm², 45 A) and 10 AWG (5.2612 mm², 60 A) of the 105 °C column (33 CFR 183.425 Table 5, read):
// x = ln(4/3.3088)/ln(5.2612/3.3088) = 0.18972/0.46379 = 0.40907; I30 = 45·(60/45)^0.40907 = 50.62 A. At 30 °C ambient the limit is 50.62 A.
rows('conductor-ampacity', 'w1', [
  ['10 A of 50.6 A', { ambient_degC: 30, load: draws(10) }, 'clear'],
  ['40 A is under 80 % (40.5 A)', { ambient_degC: 30, load: draws(40) }, 'clear'],
  ['41 A is over 80 %', { ambient_degC: 30, load: draws(41) }, 'tight'],
  ['50.6 A stays within', { ambient_degC: 30, load: draws(50.6) }, 'tight'],
  ['50.7 A is beyond', { ambient_degC: 30, load: draws(50.7) }, 'over'],
  ['insulation not known', { ambient_degC: 30, wire: { material: 'copper', crossSection_mm2: 4 } }, 'unknown'],
  ['ambient not known', { ambient_degC: null }, 'unknown'],
  ['ambient at the insulation rating, with current', { ambient_degC: 105 }, 'over'],
  ['ambient at the insulation rating, no current', { ambient_degC: 105, load: draws(0) }, 'clear'],
])

// The same 50.62 A at 30 °C: up to 100 % clear, to 150 % (75.9 A) tight (33 CFR 183.455(c), read).
rows('conductor-protection', 'w1', [
  ['50 A fuse', { ambient_degC: 30, fuse: { rated_A: 50, rated_V: 32 } }, 'clear'],
  ['51 A', { ambient_degC: 30, fuse: { rated_A: 51, rated_V: 32 } }, 'tight'],
  ['75.9 A', { ambient_degC: 30, fuse: { rated_A: 75.9, rated_V: 32 } }, 'tight'],
  ['76 A', { ambient_degC: 30, fuse: { rated_A: 76, rated_V: 32 } }, 'over'],
  ['rating not known', { ambient_degC: 30, fuse: { rated_V: 32 } }, 'unknown'],
])

// 10 A through fuse 1 mΩ, contact 1 mΩ and 2 × R of wire, with R set by its own figure: drop = 10·(0.002 + 2R) (source post to load).
// The zone is at 20 °C there, so that the stated resistance holds.
const stated = (ohm: number): Ratings => ({ material: 'copper', crossSection_mm2: 4, resistance20_ohmPerM: ohm })
rows('voltage-drop', 'l1', [
  ['R 0.01: 0.22 V of 1.2 V', { ambient_degC: 20, wire: stated(0.01) }, 'clear'],
  ['R 0.0471: 0.962 V, just past 80 % (0.96 V)', { ambient_degC: 20, wire: stated(0.0471) }, 'tight'],
  ['R 0.059: 1.2 V, at the limit', { ambient_degC: 20, wire: stated(0.059) }, 'tight'],
  ['R 0.0591: 1.202 V', { ambient_degC: 20, wire: stated(0.0591) }, 'over'],
  ['essential: 0.42 V of 0.36 V', { ambient_degC: 20, wire: stated(0.02), load: draws(10, { essential: true }) }, 'over'],
  ['wire of unknown size', { wire: { material: 'copper' } }, 'unknown'],
])

// Load volts = 12 − 10·(0.001 battery + 0.001 fuse + 0.001 contact + 2·0.0485) = 12 − 1.0 = 11.0 V by hand.
rows('load-voltage', 'l1', [
  ['11 V for a lowest of 10.4 V (94.5 %)', { ambient_degC: 20, wire: stated(0.0485), load: draws(10, { minimum_V: 10.4 }) }, 'clear'],
  ['lowest 10.5 V (95.5 %)', { ambient_degC: 20, wire: stated(0.0485), load: draws(10, { minimum_V: 10.5 }) }, 'tight'],
  ['lowest 11 V: at the limit', { ambient_degC: 20, wire: stated(0.0485), load: draws(10, { minimum_V: 11 }) }, 'tight'],
  ['lowest 11.01 V', { ambient_degC: 20, wire: stated(0.0485), load: draws(10, { minimum_V: 11.01 }) }, 'over'],
  ['drop not known', { wire: { material: 'copper' }, load: draws(10, { minimum_V: 9 }) }, 'unknown'],
])

// At 25 °C the factor is 1: tight above 75 % (fuse guide, read).
rows('fuse-load', 'f1', [
  ['15 A of 20 A', { load: draws(15) }, 'clear'],
  ['15.1 A', { load: draws(15.1) }, 'tight'],
  ['20 A: at the rating', { load: draws(20) }, 'tight'],
  ['20.1 A', { load: draws(20.1) }, 'over'],
  ['rating not known', { fuse: { rated_V: 32 } }, 'unknown'],
  // Type E at 85 °C keeps 75 % (read): 40 A carries 30 A.
  ['type E 40 A at 85 °C, 30 A', { ambient_degC: 85, fuse: { rated_A: 40, rated_V: 32, form: 'E' }, load: draws(30) }, 'tight'],
  ['type E 40 A at 85 °C, 30.1 A', { ambient_degC: 85, fuse: { rated_A: 40, rated_V: 32, form: 'E' }, load: draws(30.1) }, 'over'],
  ['beyond the last row of the table', { ambient_degC: 100, fuse: { rated_A: 40, rated_V: 32, form: 'F' }, load: draws(5) }, 'unknown'],
])

rows('rated-voltage', 'f1', [
  ['32 V on 12 V', {}, 'clear'],
  ['16 V on 12 V: at the limit', { fuse: { rated_A: 20, rated_V: 16 } }, 'clear'],
  ['15 V on 12 V', { fuse: { rated_A: 20, rated_V: 15 } }, 'over'],
  ['not known', { fuse: { rated_A: 20 } }, 'unknown'],
  // ISO 8820-3 scope (read): a 32 V link does not belong on a 48 V supply (54 V).
  ['32 V on 48 V', { system_V: 48, battery: { nominal_V: 48, openCircuit_V: 50, internalResistance_ohm: 0.01 } }, 'over'],
])

rows('contact-load', 'r1', [
  ['24 A of 30 A', { load: draws(24) }, 'clear'],
  ['24.1 A', { load: draws(24.1) }, 'tight'],
  ['30 A: at the rating', { load: draws(30) }, 'tight'],
  ['30.1 A', { load: draws(30.1) }, 'over'],
  ['not known', { relay: { rated_V: 16 } }, 'unknown'],
  // Relay sheet (read): 70 A at 23 °C, 50 A at 85 °C; 38 A is 76 %.
  [
    '38 A at 85 °C by its curve',
    {
      ambient_degC: 85,
      relay: {
        make_A: 70,
        makeByAmbient: [
          { ambient_degC: 23, current_A: 70 },
          { ambient_degC: 85, current_A: 50 },
        ],
      },
      load: draws(38),
    },
    'clear',
  ],
  [
    '51 A at 85 °C by its curve',
    {
      ambient_degC: 85,
      relay: {
        make_A: 70,
        makeByAmbient: [
          { ambient_degC: 23, current_A: 70 },
          { ambient_degC: 85, current_A: 50 },
        ],
      },
      load: draws(51),
    },
    'over',
  ],
])

const second = (current_A: number | null): Given => ({
  fuse: { rated_A: 20, rated_V: 32, form: 'C', resistance_ohm: 0.001 },
  extraParts: [{ key: 'p2', kind: 'load', name: 'p2', ratings: current_A === null ? { rated_V: 12 } : draws(current_A), evidence: {} }],
  extraComponents: [{ key: 'l2', name: 'Second lamp', part: 'p2', zone: 'z' }],
  extraJoins: [
    { from: 'r1:87', to: 'l2:+' },
    { from: 'l2:-', to: 'g1:a' },
  ],
})

test('a load of unknown current makes what it hangs on unknown, and is named', () => {
  const found = finding(vehicle(second(null)), 'fuse-load', 'f1')
  expect(found?.verdict).toBe('unknown')
  expect(found?.missing.join()).toContain('Second lamp')
})

test('a branch already past its limit with an unknown load on it is still over', () => {
  expect(finding(vehicle({ ...second(null), load: draws(21) }), 'fuse-load', 'f1')?.verdict).toBe('over')
})

test('an unfinished change leaves nothing clear on its paths', () => {
  const report = checkVehicle(vehicle({ wireMore: { unfinished: 'changed on 3 May, wiring not entered yet' } }))
  expect(report.findings.length).toBeGreaterThan(5)
  // What is about the part alone does not wait for its wiring.
  const ofThePart = rules.filter((rule) => rule.judgedIn === 'part').map((rule) => rule.id)
  expect(ofThePart).toEqual(expect.arrayContaining(['rated-voltage', 'small-conductor', 'zone-heat']))
  expect(report.findings.filter((one) => one.verdict === 'clear' && !ofThePart.includes(one.rule))).toEqual([])
  expect(report.findings.some((one) => one.verdict === 'clear' && one.rule === 'rated-voltage')).toBe(true)
  expect(report.findings.some((one) => one.missing.includes('changed on 3 May, wiring not entered yet'))).toBe(true)
})

// By hand. Fuse, wire, relay and return wire carry 10 → 18 A: 18 of 20 A is 90 %, over 75 %; 18 of 30 A is 60 %.
// Each wire: R20 = 1 m/(58·4) = 4.3103 mΩ; T = 25 + 75·(I/50.62)² = 27.93 → 34.48 °C; R = R20·(1 + 0.00393·(T − 20)) = 4.4446 → 4.5556 mΩ.
// Drop = I·(1 mΩ fuse + 1 mΩ contact + 2·R) = 10·10.889 mΩ = 0.109 V → 18·11.111 mΩ = 0.200 V, of 1.2 V.
// The second lamp loses as much, 16.7 % of its allowance on a current only assumed; the 20 A fuse lets its return carry 20 A.
test('adding 8 A to a branch of 10 A on a 20 A fuse: of all findings just these change, and so much', () => {
  const shown = (given: Given) =>
    new Map(checkVehicle(vehicle(given)).findings.map((one) => [`${one.rule} ${one.component}`, `${one.verdict} ${one.value?.toFixed(3)}`]))
  const [before, after] = [shown({}), shown(second(8))]
  expect([before.get('fuse-load f1'), before.get('voltage-drop l1')]).toEqual(['clear 10.000', 'clear 0.109'])
  expect([...before.keys()].filter((key) => !after.has(key))).toEqual([])
  expect(Object.fromEntries([...after].filter(([key, says]) => before.get(key) !== says))).toEqual({
    'fuse-load f1': 'tight 18.000',
    'conductor-ampacity w1': 'clear 18.000',
    // Of unknown nature, it may draw up to 40 times as much for a moment.
    'contact-inrush r1': 'unknown 18.000',
    'conductor-ampacity g1': 'clear 18.000',
    'contact-load r1': 'clear 18.000',
    'voltage-drop l1': 'clear 0.200',
    'voltage-drop l2': 'clear 0.200',
    'return-path l2': 'clear 20.000',
    'rating-evidence l2': 'clear 16.667',
  })
  const { appeared, cleared } = compareFindings(checkVehicle(vehicle({})), checkVehicle(vehicle(second(8))))
  expect(appeared.map((one) => [one.rule, one.component, one.verdict])).toEqual([['fuse-load', 'f1', 'tight']])
  expect(cleared).toEqual([])
})

test('a swap for an equal part, and another order of the lists, change not one byte', () => {
  const plain = vehicle(second(8))
  const same = {
    ...plain,
    parts: [...plain.parts, { ...(plain.parts[1] as never as object), key: 'fuse-2' } as never],
    components: plain.components.map((one) => (one.key === 'f1' ? { ...one, part: 'fuse-2' } : one)),
  }
  expect(JSON.stringify(checkVehicle(same))).toBe(JSON.stringify(checkVehicle(plain)))
  const turned = {
    ...plain,
    components: [...plain.components].reverse(),
    joins: [...plain.joins].reverse().map((join) => ({ ...join, from: join.to, to: join.from })),
    parts: [...plain.parts].reverse(),
  }
  expect(JSON.stringify(checkVehicle(turned))).toBe(JSON.stringify(checkVehicle(plain)))
})
