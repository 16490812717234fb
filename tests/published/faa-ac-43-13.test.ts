import { expect, test } from 'vitest'
import { circuitOf } from '../../server/engine/circuit-of.ts'
import { switchFactor } from '../../server/engine/tables/faa-switch-factors.ts'
import type { VehicleDocument } from '../../server/engine/vehicle.ts'

// FAA AC 43.13-1B (CHG 1) Table 11-4, switch derating factors. Grade: read.
test.each([
  [24, 'lamp', 8],
  [24, 'inductive', 4],
  [24, 'resistive', 2],
  [24, 'motor', 3],
  [12, 'lamp', 5],
  [12, 'inductive', 2],
  [12, 'resistive', 1],
  [12, 'motor', 2],
])('Table 11-4: %d V %s × %d', (nominal_V, nature, factor) => {
  expect(switchFactor(nature, nominal_V)).toBe(factor)
})

// Tables 11-7 and 11-8: length, current, resistance per foot → drop. Grade: read (two copies).
// 11-7 row 3 prints 3.60 V where 88 × 0.00202 × 20 = 3.555; 11-8 row 2 prints 0.366 V, a misprint: 19.5 × 0.00126 × 20 = 0.4914.
test.each([
  ['11-7 row 2', 90, 20, 0.00028, 0.504, 0.0005],
  ['11-7 row 3', 88, 20, 0.00202, 3.6, 0.05],
  ['11-7 row 4', 100, 20, 0.00306, 6.12, 0.0005],
  ['11-8 row 2', 19.5, 20, 0.00126, 0.4914, 0.0005],
  ['11-8 row 4', 273, 20, 0.00126, 6.88, 0.0005],
])('Table %s: %d ft, %d A, %d Ω/ft drops %d V', (_, length_ft, current_A, ohmPerFt, drop_V, tolerance_V) => {
  const document: VehicleDocument = {
    format: 'loombook-vehicle/1',
    vehicle: { name: 'row', systemVoltage_V: 24 },
    parts: [
      { key: 'b', kind: 'battery', name: 'b', ratings: { openCircuit_V: 28, internalResistance_ohm: 0.001 } },
      {
        key: 'w',
        kind: 'conductor',
        name: 'w',
        ratings: { material: 'copper', crossSection_mm2: 4, resistance20_ohmPerM: ohmPerFt / 0.3048 },
      },
      { key: 'l', kind: 'load', name: 'l', ratings: { behaviour: 'current', current_A, rated_V: 24 } },
    ],
    components: [
      { key: 'bat', name: 'bat', part: 'b' },
      { key: 'wire', name: 'wire', part: 'w', length_m: length_ft * 0.3048 },
      { key: 'load', name: 'load', part: 'l' },
    ],
    joins: [
      { from: 'bat:+', to: 'wire:a' },
      { from: 'wire:b', to: 'load:+' },
      { from: 'load:-', to: 'bat:-' },
    ],
  }
  const [solved] = circuitOf(document, { conductorTemperature_degC: 20 }).conditions
  expect(Math.abs((solved?.drop_V('wire') ?? Number.NaN) - drop_V)).toBeLessThanOrEqual(tolerance_V)
})
