import { expect, test } from 'vitest'
import { ampacity_A } from '../../server/engine/ampacity.ts'

// NEC Table 310.15(B)(2)(a), correction on a 30 °C base, upper end of each ambient band; printed to 0.01. Grade: read.
const rows: [number, number, number][] = [
  [25, 60, 1.08],
  [25, 75, 1.05],
  [25, 90, 1.04],
  [30, 60, 1],
  [30, 75, 1],
  [30, 90, 1],
  [35, 60, 0.91],
  [35, 75, 0.94],
  [35, 90, 0.96],
  [40, 60, 0.82],
  [40, 75, 0.88],
  [40, 90, 0.91],
  [45, 60, 0.71],
  [45, 75, 0.82],
  [45, 90, 0.87],
  [50, 60, 0.58],
  [50, 75, 0.75],
  [50, 90, 0.82],
  [55, 60, 0.41],
  [55, 75, 0.67],
  [55, 90, 0.76],
  [60, 75, 0.58],
  [60, 90, 0.71],
  [70, 75, 0.33],
  [70, 90, 0.58],
  [80, 90, 0.41],
]

test.each(rows)('%d °C ambient, %d °C insulation: × %d', (ambient_degC, insulation_degC, factor) => {
  // 12 AWG lies on a row of the table, so the ratio is the ambient law alone; at or below 30 °C no cap applies.
  const at = (degC: number) =>
    ampacity_A({ crossSection_mm2: 3.3088, insulation_degC, ambient_degC: degC, bundle: 1, material: 'copper' }) as number
  expect(Math.abs(at(ambient_degC) / at(30) - factor)).toBeLessThanOrEqual(0.0101)
})

// NEC Table 310.15(B)(2)(b), base 40 °C: the law is the same, f = √((Tr − Ta)/(Tr − 40)). Grade: read.
const base40: [number, number, number][] = [
  [30, 60, 1.22],
  [30, 75, 1.13],
  [30, 90, 1.1],
  [30, 200, 1.03],
  [45, 60, 0.87],
  [45, 75, 0.93],
  [45, 90, 0.95],
  [45, 200, 0.98],
  [50, 60, 0.71],
  [50, 75, 0.85],
  [50, 90, 0.89],
  [50, 200, 0.97],
  [60, 75, 0.65],
  [60, 90, 0.77],
  [60, 200, 0.94],
  [70, 75, 0.38],
  [70, 90, 0.63],
  [70, 200, 0.9],
  [80, 90, 0.45],
  [80, 200, 0.87],
  [100, 200, 0.79],
  [140, 200, 0.61],
]

test.each(base40)('base 40: %d °C ambient, %d °C insulation: × %d', (ambient_degC, insulation_degC, factor) => {
  const at = (degC: number) =>
    ampacity_A({ crossSection_mm2: 3.3088, insulation_degC, ambient_degC: degC, bundle: 1, material: 'copper' }) as number
  expect(Math.abs(at(ambient_degC) / at(40) - factor)).toBeLessThanOrEqual(0.0101)
})
