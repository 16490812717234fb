import { readdirSync, readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { circuitOf } from '../../server/engine/circuit-of.ts'
import type { VehicleDocument } from '../../server/engine/vehicle.ts'

// Operating points by ngspice 39 (an independent circuit simulator), every conductor at 20 °C: kept beside each network.
type Points = Record<string, { terminals_V: Record<string, number>; components_A: Record<string, number> }>
const names = readdirSync(import.meta.dirname)
  .filter((name) => name.endsWith('.operating-point.json'))
  .map((name) => name.replace('.operating-point.json', ''))
const read = (name: string) => JSON.parse(readFileSync(`${import.meta.dirname}/${name}`, 'utf8'))

test('no network was dropped', () => {
  expect(names.length).toBeGreaterThanOrEqual(16)
})

test.each(names)('%s agrees with the simulator to 1 mV and 0.1 %%', (name) => {
  const points = read(`${name}.operating-point.json`) as Points
  const circuit = circuitOf(read(`${name}.json`) as VehicleDocument, { conductorTemperature_degC: 20 })
  for (const [key, point] of Object.entries(points)) {
    const solved = circuit.conditions.find((one) => one.condition.key === key)
    expect(solved?.solved, key).toBe(true)
    for (const [terminal, volts] of Object.entries(point.terminals_V)) {
      expect(Math.abs((solved?.voltage_V(terminal) ?? Number.NaN) - volts), `${key} ${terminal}`).toBeLessThanOrEqual(0.001)
    }
    for (const [component, amperes] of Object.entries(point.components_A)) {
      expect(Math.abs((solved?.current_A(component) ?? Number.NaN) - amperes), `${key} ${component}`).toBeLessThanOrEqual(
        0.001 * Math.max(1, Math.abs(amperes)),
      )
    }
  }
})
