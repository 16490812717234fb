import { expect, test } from 'vitest'
import { areaOf_mm2 } from '../../server/engine/parts/conductor-sizes.ts'

// ASTM B258: d = 0.127 mm · 92^((36 − n)/39). Formula read; areas computed from it in the reference table.
const rows: [string, number][] = [
  ['24', 0.2047],
  ['22', 0.3255],
  ['20', 0.5176],
  ['18', 0.823],
  ['16', 1.3087],
  ['14', 2.0809],
  ['12', 3.3088],
  ['10', 5.2612],
  ['8', 8.3656],
  ['6', 13.3018],
  ['4', 21.1506],
  ['3', 26.6705],
  ['2', 33.6308],
  ['1', 42.4077],
  ['0', 53.4751],
  ['00', 67.4309],
  ['000', 85.0288],
  ['0000', 107.2193],
]

test.each(rows)('%s AWG is %d mm²', (name, area_mm2) => {
  expect(areaOf_mm2({ system: 'AWG', name })).toBeCloseTo(area_mm2, 3)
})

// SAE cable holds less copper than the AWG of the same number: minimum areas, read (18–10, 6, 4, 2, 0, 00) or memory.
test.each([
  ['18', 0.779, 0.949],
  ['16', 1.184, 0.905],
  ['14', 1.876, 0.901],
  ['12', 2.956, 0.893],
  ['10', 4.734, 0.9],
  ['8', 7.504, 0.897],
  ['6', 12.434, 0.935],
  ['4', 18.931, 0.895],
  ['2', 31.644, 0.941],
  ['1', 39.417, 0.93],
  ['0', 50.154, 0.937],
  ['00', 63.389, 0.94],
  ['000', 80.364, 0.945],
  ['0000', 104.128, 0.971],
] as [string, number, number][])('SAE %s is %d mm², %d of the AWG', (name, area_mm2, ratio) => {
  const sae = areaOf_mm2({ system: 'SAE', name }) as number
  expect(sae).toBeCloseTo(area_mm2, 3)
  expect(Math.abs(sae / (areaOf_mm2({ system: 'AWG', name }) as number) - ratio)).toBeLessThan(0.006)
})
