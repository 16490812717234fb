import { expect, test } from 'vitest'
import { materials } from '../../server/engine/tables/material-constants.ts'

// Ω·mm²/m at 20 °C. Copper 0.017241: 100 % IACS, IEC 60028 (read, secondary). Aluminium 0.028264: 61 % IACS, IEC 60889 (read).
// Clad: least conductivity 62.9 and 64.4 % IACS, ASTM B566 (read): 0.017241 / 0.629 = 0.027410, / 0.644 = 0.026772 by hand.
test.each([
  ['copper', 0.017241],
  ['aluminium', 0.028264],
  ['cca-10', 0.02741],
  ['cca-15', 0.026772],
])('%s: %d Ω·mm²/m', (material, rho) => {
  expect(materials[material]?.rho20_ohmMm2PerM).toBeCloseTo(rho, 5)
})

test('tinned copper is 3 % above plain: IEC 60228 class 5, 1 mm² 20.0 against 19.5 Ω/km (read)', () => {
  const ratio = (materials['tinned-copper']?.rho20_ohmMm2PerM ?? 0) / (materials.copper?.rho20_ohmMm2PerM ?? 1)
  expect(Math.abs(ratio - 20 / 19.5)).toBeLessThan(0.006)
})
