import { expect, test } from 'vitest'
import { circuitOf } from '../../server/engine/circuit-of.ts'
import { protectedBy } from '../../server/engine/protected-by.ts'
import type { Component, Join, Part } from '../../server/engine/vehicle.ts'
import { vehicle } from './vehicle-builder.ts'

/**
 * battery → F1 20 A → W1 4 mm² → relay R1 → lamp, and beside it at the end of W1: F2 5 A → W2 1 mm² → W3 of unknown size → radio.
 * The 1 mm² stands behind F2, so F1's least wire is the 4 mm² (told by eye).
 */
const parts: Part[] = [
  { key: 'small', kind: 'fuse', name: 'small', ratings: { rated_A: 5, form: 'C' } },
  { key: 'thin', kind: 'conductor', name: 'thin', ratings: { material: 'copper', crossSection_mm2: 1, insulation_degC: 105 } },
  { key: 'unsized', kind: 'conductor', name: 'unsized', ratings: { material: 'copper' } },
  { key: 'radio', kind: 'load', name: 'radio', ratings: { behaviour: 'current', current_A: 1, rated_V: 12 } },
]
const components: Component[] = [
  { key: 'f2', name: 'Fuse F2', part: 'small' },
  { key: 'w2', name: 'Wire W2', part: 'thin', length_m: 1 },
  { key: 'w3', name: 'Wire W3', part: 'unsized', length_m: 1 },
  { key: 'l2', name: 'Radio', part: 'radio' },
]
const joins: Join[] = [
  { from: 'w1:b', to: 'f2:in' },
  { from: 'f2:out', to: 'w2:a' },
  { from: 'w2:b', to: 'w3:a' },
  { from: 'w3:b', to: 'l2:+' },
  { from: 'l2:-', to: 'bat:-' },
]

test('each thing hangs on the nearest device before it; what is behind a further one is that one’s', () => {
  const found = protectedBy(circuitOf(vehicle({ extraParts: parts, extraComponents: components, extraJoins: joins })))
  const [f1, f2] = ['f1', 'f2'].map((device) => found.find((one) => one.device === device))
  expect(f1).toMatchObject({ loads: ['l1'], devices: ['f2'], conductors: ['w1'], unsized: [] })
  expect(f1?.smallest).toEqual({ conductor: 'w1', crossSection_mm2: 4 })
  expect(f2).toMatchObject({ loads: ['l2'], devices: [], conductors: ['w2', 'w3'] })
  // The thinnest that is known, and beside it that another is not known: it may be thinner.
  expect(f2?.smallest).toEqual({ conductor: 'w2', crossSection_mm2: 1 })
  expect(f2?.unsized).toEqual(['w3'])
})

test('the time a short lasts is told only where it is sure for every wire', () => {
  const found = protectedBy(circuitOf(vehicle({ extraParts: parts, extraComponents: components, extraJoins: joins })))
  // 12 V over some mΩ: hundreds of amperes, beyond 600 % of 20 A; type C is then open within 0.1 s (its window's last row).
  expect(found.find((one) => one.device === 'f1')?.clearing_s).toBe(0.1)
  const behind = found.find((one) => one.device === 'f2')
  expect(behind?.clearing_s).toBeNull()
  expect(behind?.notSure).toEqual(['w3'])
})

test('a fuse with nothing behind it says nothing', () => {
  const document = vehicle({
    extraParts: [parts[0] as Part],
    extraComponents: [components[0] as Component],
    extraJoins: [joins[0] as Join],
  })
  expect(protectedBy(circuitOf(document)).find((one) => one.device === 'f2')).toEqual({
    ...{ device: 'f2', loads: [], parts: [], devices: [], conductors: [], smallest: null, unsized: [], clearing_s: null, notSure: [] },
  })
})

test('a device between two batteries belongs to both, and parts them', () => {
  const second: Part = { key: 'second', kind: 'battery', name: 'second', ratings: { openCircuit_V: 12, internalResistance_ohm: 0.01 } }
  const document = vehicle({
    extraParts: [second, parts[0] as Part],
    extraComponents: [
      { key: 'bat2', name: 'Second battery', part: 'second' },
      { key: 'f2', name: 'Link fuse', part: 'small' },
    ],
    extraJoins: [
      { from: 'bat:+', to: 'f2:in' },
      { from: 'f2:out', to: 'bat2:+' },
      { from: 'bat2:-', to: 'bat:-' },
    ],
  })
  expect(protectedBy(circuitOf(document)).find((one) => one.device === 'f2')?.parts).toEqual(['bat', 'bat2'])
})
