/** 1 mm² alone, 0.75 mm² in a bundle (common practice, after the 16 and 18 AWG of 33 CFR 183.425, read). */
import { describe, expect, test } from 'vitest'
import type { Component, Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { vehicle } from '../vehicle-builder.ts'
import { judged } from './judged.ts'

const judge = (wire: Ratings, wireMore: Partial<Component> = {}) => judged(vehicle({ wire, wireMore }), 'small-conductor', 'w1')

describe('alone', () => {
  test.each([
    [1, 'clear'],
    [0.999, 'tight'],
    [0.1, 'tight'],
    [4, 'clear'],
  ])('%f mm²: %s', (crossSection_mm2, verdict) => {
    const found = judge({ crossSection_mm2 })
    expect(found).toMatchObject({
      verdict,
      value: crossSection_mm2,
      limit: 1,
      unit: 'mm²',
      tightAbove: null,
      missing: [],
      evidence: 'datasheet',
    })
    expect(found?.names).toEqual(['cross-section', 'least alone'])
    expect(found?.units).toEqual(['mm²', 'mm²'])
    expect(found?.figure('cross-section')).toBe(crossSection_mm2)
    expect(found?.figure('least alone')).toBe(1)
  })
  test('a bundle of one is alone', () => {
    expect(judge({ crossSection_mm2: 0.75 }, { bundle: 1 })).toMatchObject({ verdict: 'tight', limit: 1 })
  })
  test('as it reads', () => {
    expect(judge({ crossSection_mm2: 0.5 })?.says).toBe('Wire W1 has 0.5 mm² against a minimum for a wire alone of 1 mm².')
    expect(judge({ crossSection_mm2: 0.5 }, { bundle: 3 })?.says).toBe('Wire W1 has 0.5 mm² against a minimum in a bundle of 0.75 mm².')
  })
})

describe('in a bundle', () => {
  test.each([
    [0.75, 2, 'clear'],
    [0.749, 2, 'tight'],
    [0.749, 30, 'tight'],
    [0.75, 30, 'clear'],
  ])('%f mm² among %d: %s', (crossSection_mm2, bundle, verdict) => {
    const found = judge({ crossSection_mm2 }, { bundle })
    expect(found).toMatchObject({ verdict, value: crossSection_mm2, limit: 0.75 })
    expect(found?.names).toEqual(['cross-section', 'least in a bundle'])
    expect(found?.figure('least in a bundle')).toBe(0.75)
  })
})

// Areas of AWG by ASTM B258: 18 AWG 0.8231 mm², 16 AWG 1.3088 mm² (read).
test.each([
  ['18', {}, 'tight', 0.8231],
  ['18', { bundle: 4 }, 'clear', 0.8231],
  ['16', {}, 'clear', 1.3088],
  ['20', { bundle: 4 }, 'tight', 0.5176],
] as const)('%s AWG', (name, more, verdict, area_mm2) => {
  const found = judge({ size: { system: 'AWG', name } }, more)
  expect(found?.verdict).toBe(verdict)
  expect(found?.value).toBeCloseTo(area_mm2, 3)
})

test('a size that is not recorded', () => {
  const found = judge({ material: 'copper' })
  expect(found).toMatchObject({ verdict: 'unknown', value: null, limit: 1, missing: ['cross-section'], evidence: 'assumed' })
  expect(found?.figure('cross-section')).toBeNull()
})

test('every conductor is judged, returns too; nothing else is', () => {
  const document: VehicleDocument = vehicle({ wire: { crossSection_mm2: 0.5 } })
  expect(judged(document, 'small-conductor', 'g1')?.verdict).toBe('tight')
  expect(judged(document, 'small-conductor', 'f1')).toBeUndefined()
})
