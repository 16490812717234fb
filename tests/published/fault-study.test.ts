/**
 * A fault study worked by hand beside the engine's: battery by its cold-cranking figure, main fuse, cable, block, branch fuse, a long thin run,
 * its own return and the body's strap. Sources: SAE J537 end voltage (read), copper 58 MS/m and α20 0.00393 /K (IEC 60028, memory),
 * windows of type C (read), IEC 60364-4-43 adiabatic law (read).
 */
import { expect, test } from 'vitest'
import { circuitOf } from '../../server/engine/circuit-of.ts'
import { findingsOf } from '../../server/engine/rules/check.ts'
import { figuresBehind } from '../../server/engine/rules/explain.ts'
import type { Parts } from '../engine/solve/wiring.ts'
import { wiring } from '../engine/solve/wiring.ts'

const copper = (crossSection_mm2: number, length_m: number): Parts[string] => [
  'conductor',
  { material: 'copper', crossSection_mm2, insulation_degC: 105, insulation: 'PVC' },
  { length_m, zone: 'z' },
]

function study(branch: { readonly rated_A: number; readonly resistance_ohm: number }) {
  const document = wiring({
    ambient_degC: 25,
    parts: {
      bat: ['battery', { nominal_V: 12, openCircuit_V: 12.6, coldCranking_A: 600, coldCrankingTest: 'SAE' }],
      main: ['fuse', { rated_A: 150, rated_V: 32, form: 'SF30', resistance_ohm: 0.0005 }],
      cable: copper(35, 2),
      bar: ['block', {}],
      f1: ['fuse', { rated_V: 32, form: 'C', ...branch }],
      run: copper(0.75, 6),
      lamp: ['load', { behaviour: 'current', current_A: 3, rated_V: 12 }],
      back: copper(1.5, 6),
      body: ['chassis', {}],
      strap: copper(25, 0.5),
    },
    joins: [
      'bat:+ > main:in',
      'main:out > cable:a',
      'cable:b > bar:1',
      'bar:2 > f1:in',
      'f1:out > run:a',
      'run:b > lamp:+',
      'lamp:- > back:a',
      'back:b > body:1',
      'body:2 > strap:a',
      'strap:b > bat:-',
    ],
  })
  const circuit = circuitOf(document)
  const findings = findingsOf(circuit)
  const finding = (rule: string, component: string) => findings.find((one) => one.rule === rule && one.component === component)
  const figure = (rule: string, component: string, name: string) => {
    const found = finding(rule, component)
    if (!found) throw new Error(`no ${rule} of ${component}`)
    return figuresBehind({ circuit, finding: found }).find((one) => one.name === name)?.value as number
  }
  return { circuit, finding, figure }
}

// Battery at −18 °C: (12.6 − 7.2)/600 = 9.0 mΩ (the label’s worked example gives the same).
const battery_ohm = (12.6 - 7.2) / 600
// R = l/(58·S); hot at Tr 105 °C × (1 + 0.00393·85) = 1.33405.
const hot = 1 + 0.00393 * (105 - 20)
const ohm = (crossSection_mm2: number, length_m: number) => length_m / (58 * crossSection_mm2)
const way_ohm = (fuse_ohm: number, factor: number, battery: number) =>
  battery + 0.0005 + fuse_ohm + factor * (ohm(35, 2) + ohm(0.75, 6) + ohm(1.5, 6) + ohm(25, 0.5))

test('the prospective current at the end of the run, hot, through its own return: 42.7 A', () => {
  // 9.0 + 0.5 + 7.6 + 1.33405·(0.985 + 137.931 + 68.966 + 0.345) = 17.1 + 277.79 = 294.89 mΩ; 12.6 V / 294.89 mΩ = 42.73 A.
  const by_hand_A = 12.6 / way_ohm(0.0076, hot, battery_ohm)
  expect(by_hand_A).toBeCloseTo(42.73, 2)
  const { circuit } = study({ rated_A: 10, resistance_ohm: 0.0076 })
  const fault = circuit.faultAt({ source: 'bat', conductor: 'run' })
  expect(fault?.current_A).toBeCloseTo(by_hand_A, 6)
  expect(fault?.to).toBe('lamp:-')
  expect(fault?.through_A('f1')).toBeCloseTo(by_hand_A, 6)
  expect(fault?.missing).toEqual([])
})

test('a 10 A link opens within 0.5 s; the run withstands twice the most that passes', () => {
  const { finding, figure } = study({ rated_A: 10, resistance_ohm: 0.0076 })
  // 427 % of 10 A: the highest listed multiple reached is 350 %, at most 0.5 s (read).
  expect(finding('fault-clears', 'run')).toMatchObject({ verdict: 'clear', value: 0.5, limit: 5, unit: 's' })
  expect(figure('fault-clears', 'run', 'highest listed multiple reached')).toBe(350)
  // Near end, by the body: 12.6 V / (17.1 + 1.33405·(0.985 + 0.345)) = 12.6/18.87 mΩ = 668 A. From 350 % up to 600 %: 60²·0.5 = 1800 A²s;
  // from there on 60²·0.1 = 360. k from 105 to 160 °C: √(3.45e-3·254.5/17.241e-6·ln(394.5/339.5)) = √(50926·0.15015) = 87.44; (87.44·0.75)² = 4301 A²s.
  const k = Math.sqrt(((3.45e-3 * 254.5) / 17.241e-6) * Math.log(394.5 / 339.5))
  expect(k).toBeCloseTo(87.44, 1)
  const withstand = finding('fault-withstand', 'run')
  const near_A = 12.6 / (battery_ohm + 0.0005 + 0.0076 + hot * (ohm(35, 2) + ohm(25, 0.5)))
  expect(near_A).toBeCloseTo(667.6, 0)
  expect(figure('fault-withstand', 'run', 'short at the far end, through the device')).toBeCloseTo(
    12.6 / way_ohm(0.0076, hot, battery_ohm),
    6,
  )
  expect(figure('fault-withstand', 'run', 'short at the near end, through the device')).toBeCloseTo(near_A, 6)
  expect(withstand?.value).toBeCloseTo(60 ** 2 * 0.5, 6)
  expect(withstand?.limit).toBeCloseTo((k * 0.75) ** 2, 6)
  expect(withstand?.verdict).toBe('clear')
})

test('a 20 A link takes up to 5 s, more than the run withstands', () => {
  const { finding } = study({ rated_A: 20, resistance_ohm: 0.0048 })
  // 12.6 V / 292.09 mΩ = 43.14 A: 216 % of 20 A, at most 5 s from 200 % on. Nearer, just under 350 %: 70²·5 = 24 500 A²s against 4301.
  expect(12.6 / way_ohm(0.0048, hot, battery_ohm)).toBeCloseTo(43.14, 2)
  expect(finding('fault-clears', 'run')).toMatchObject({ verdict: 'clear', value: 5, used: 1 })
  expect(finding('fault-withstand', 'run')?.value).toBeCloseTo(70 ** 2 * 5, 6)
  expect(finding('fault-withstand', 'run')?.verdict).toBe('over')
})

test('a 30 A link may take ten minutes: over', () => {
  const { finding } = study({ rated_A: 30, resistance_ohm: 0.0032 })
  // 43.4 A is 145 % of 30 A: only the 135 % row is reached, at most 600 s.
  expect(finding('fault-clears', 'run')).toMatchObject({ verdict: 'over', value: 600 })
  // What is not cleared within 5 s is no case for the adiabatic law.
  expect(finding('fault-withstand', 'run')).toBeUndefined()
})

test('a 35 A link is never sure to open', () => {
  const { finding } = study({ rated_A: 35, resistance_ohm: 0.0029 })
  // 43.4 A is 124 % of 35 A: below 135 %, the lowest multiple with a longest time.
  expect(finding('fault-clears', 'run')).toMatchObject({ verdict: 'over', value: null })
})

test('what the fuses may have to break: cold, half the battery’s −18 °C resistance, each link cold in its own way', () => {
  const { finding, figure } = study({ rated_A: 10, resistance_ohm: 0.0076 })
  // A cold link has 0.6 of what its drop at rated current gives (type C, 40 A, read).
  // Main, at the post: 12.6/(0.0045 + 0.6·0.0005 + 0.000345) = 2449 A against 2000 A of its form (ISO 8820-5 scope, read).
  const main_A = 12.6 / (battery_ohm / 2 + 0.6 * 0.0005 + ohm(25, 0.5))
  expect(main_A).toBeCloseTo(2449.1, 1)
  expect(finding('fuse-breaking', 'main')).toMatchObject({ verdict: 'over', limit: 2000 })
  expect(finding('fuse-breaking', 'main')?.value).toBeCloseTo(main_A, 6)
  // Branch: 12.6/(0.0045 + 0.0003 + 0.000985 + 0.000345 + 0.6·0.0076) = 1178.7 A; the main cannot break its own, so nothing is halved.
  const branch_A = 12.6 / (battery_ohm / 2 + 0.6 * (0.0005 + 0.0076) + ohm(35, 2) + ohm(25, 0.5))
  expect(branch_A).toBeCloseTo(1178.7, 1)
  expect(finding('fuse-breaking', 'f1')?.value).toBeCloseTo(branch_A, 6)
  expect(figure('fuse-breaking', 'f1', 'short just past it')).toBeCloseTo(branch_A, 6)
})
