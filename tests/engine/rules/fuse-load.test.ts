import { describe, expect, test } from 'vitest'
import { checkVehicle } from '../../../server/engine/rules/check.ts'
import type { Ratings } from '../../../server/engine/vehicle.ts'
import { finding, vehicle } from '../vehicle-builder.ts'

const draws = (current_A: number): Ratings => ({ behaviour: 'current', current_A, rated_V: 12 })

describe('fuse-load', () => {
  // No temperature raises a fuse's rating: the bare 20 A cannot be passed whatever the ambient, but below it the ambient decides.
  test.each<[string, number, string]>([
    ['ambient not known, 21 A of 20 A', 21, 'over'],
    ['ambient not known, 19 A of 20 A', 19, 'unknown'],
  ])('%s', (_, current_A, verdict) => {
    const found = finding(vehicle({ ambient_degC: null, load: draws(current_A) }), 'fuse-load', 'f1')
    expect(found?.verdict).toBe(verdict)
    expect(found?.limit).toBe(20)
  })
  test('a breaker is judged alike: 15.1 A of 20 A', () => {
    const document = vehicle({ load: draws(15.1), fuse: { rated_A: 20, rated_V: 32 } })
    const breaker = { ...document, parts: document.parts.map((part) => (part.key === 'fuse' ? { ...part, kind: 'breaker' } : part)) }
    expect(checkVehicle(breaker).findings.find((one) => one.rule === 'fuse-load')?.verdict).toBe('tight')
  })
  test('form C is taken as F: that figure is typical, and the finding says so', () => {
    const evidence = (form: string) => finding(vehicle({ fuse: { rated_A: 20, rated_V: 32, form } }), 'fuse-load', 'f1')?.evidence
    expect([evidence('C'), evidence('F')]).toEqual(['typical', 'measured'])
  })
})
