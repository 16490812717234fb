import { expect, test } from 'vitest'
import { ampacity_A } from '../../server/engine/ampacity.ts'
import { areaOf_mm2 } from '../../server/engine/parts/conductor-sizes.ts'

// 33 CFR 183.425 Table 5, allowable amperage at 30 °C ambient, copper. Grade: read (105 °C column in two copies).
const columns = [60, 75, 80, 90, 105, 125, 200]
const rows: [string, number[]][] = [
  ['18', [10, 10, 15, 20, 20, 25, 25]],
  ['16', [15, 15, 20, 25, 25, 30, 35]],
  ['14', [20, 20, 25, 30, 35, 40, 45]],
  ['12', [25, 25, 35, 40, 45, 50, 55]],
  ['10', [40, 40, 50, 55, 60, 70, 70]],
  ['8', [55, 65, 70, 70, 80, 90, 100]],
  ['6', [80, 95, 100, 100, 120, 125, 135]],
  ['4', [105, 125, 130, 135, 160, 170, 180]],
  ['3', [120, 145, 150, 155, 180, 195, 210]],
  ['2', [140, 170, 175, 180, 210, 225, 240]],
  ['1', [165, 195, 210, 210, 245, 265, 280]],
  ['0', [195, 230, 245, 245, 285, 305, 325]],
  ['00', [225, 265, 285, 285, 330, 355, 370]],
  ['000', [260, 310, 330, 330, 385, 410, 430]],
  ['0000', [300, 360, 385, 385, 445, 475, 510]],
]

test.each(
  rows.flatMap(([awg, amperes]) =>
    columns.map((insulation_degC, n): [string, number, number] => [awg, insulation_degC, amperes[n] as number]),
  ),
)('%s AWG, %d °C insulation: %d A', (awg, insulation_degC, amperes) => {
  const crossSection_mm2 = areaOf_mm2({ system: 'AWG', name: awg }) as number
  expect(ampacity_A({ crossSection_mm2, insulation_degC, ambient_degC: 30, bundle: 1, material: 'copper' })).toBeCloseTo(amperes, 9)
})

test('below 60 °C insulation there is no figure', () => {
  expect(ampacity_A({ crossSection_mm2: 2.5, insulation_degC: 59, ambient_degC: 30, bundle: 1, material: 'copper' })).toBeNull()
})

// 33 CFR 183.425 note 2 (memory): 3 loaded conductors 0.70, 4–6 0.60, 7–24 0.50, 25 and more 0.40.
test.each([
  [1, 1],
  [2, 1],
  [3, 0.7],
  [4, 0.6],
  [6, 0.6],
  [7, 0.5],
  [24, 0.5],
  [25, 0.4],
])('a bundle of %d: × %d', (bundle, factor) => {
  const given = { crossSection_mm2: 2.5, insulation_degC: 105, ambient_degC: 30, material: 'copper' }
  expect(ampacity_A({ ...given, bundle })).toBeCloseTo((ampacity_A({ ...given, bundle: 1 }) as number) * factor, 9)
})
