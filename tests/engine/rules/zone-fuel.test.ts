import { describe, expect, test } from 'vitest'
import type { Component, Part, VehicleDocument, Zone } from '../../../server/engine/vehicle.ts'
import { battery, off, wiring } from '../solve/wiring.ts'
import { judged } from './judged.ts'

type Given = {
  readonly part?: string
  readonly zone?: string
  readonly kind?: string
  readonly more?: Partial<Part>
  readonly zoned?: Partial<Zone>
}

const placed = ({ part, zone, kind = 'relay', more = {}, zoned = {} }: Given): VehicleDocument => {
  const document = wiring({ parts: { bat: battery(12.6, 0.01) }, joins: [], conditions: [off] })
  const it: Component = { key: 'it', name: 'Sender', part: 'it', zone: 'tank' }
  return {
    ...document,
    zones: [{ key: 'tank', name: 'Tank', ...(zone === undefined ? {} : { fuel: zone }), ...zoned }],
    parts: [...document.parts, { key: 'it', kind, name: 'it', ratings: part === undefined ? {} : { fuel: part }, ...more }],
    components: [...document.components, it],
  }
}
const of = (given: Given) => judged(placed(given), 'zone-fuel', 'it')

describe('zone-fuel', () => {
  // 33 CFR 183.410 (read): electrical parts are kept apart from petrol ones; in a tank only what is made for it (common practice).
  // In this order each stands what stands before it: none, vapour, immersed.
  test.each([
    ['none', 'vapour', 'over'],
    ['none', 'immersed', 'over'],
    ['vapour', 'vapour', 'clear'],
    ['vapour', 'immersed', 'over'],
    ['immersed', 'vapour', 'clear'],
    ['immersed', 'immersed', 'clear'],
  ] as const)('a part that stands %s where there is %s', (part, zone, verdict) => {
    const found = of({ part, zone })
    expect(found).toMatchObject({ verdict, value: null, limit: null, unit: '', used: null, missing: [] })
    const words = { none: 'no fuel', vapour: 'fuel vapour', immersed: 'liquid fuel' }
    expect(found?.says).toBe(`Sender withstands ${words[part]}; Tank holds ${words[zone]}.`)
    expect(found?.figures).toEqual({ 'fuel the part withstands': words[part], 'fuel in Tank': words[zone] })
    expect(found?.remedy).toMatch(verdict === 'clear' ? /^$/ : /^Move it out of the vapour.*follow the sheet and local codes\.$/)
  })

  test.each(['relay', 'conductor', 'hose', 'pump'])('whatever its kind, what is stated counts: %s', (kind) => {
    expect(of({ part: 'none', zone: 'vapour', kind })?.verdict).toBe('over')
    expect(of({ part: 'immersed', zone: 'immersed', kind })?.verdict).toBe('clear')
  })

  describe('a part that states nothing', () => {
    test.each(['relay', 'switch', 'breaker', 'fuse', 'alternator', 'battery', 'pump', 'load', 'connector'])(
      'in vapour, %s: it may spark, so it is asked',
      (kind) => {
        const found = of({ zone: 'vapour', kind })
        expect([found?.verdict, found?.missing, found?.evidence]).toEqual(['unknown', ['the fuel it withstands'], 'assumed'])
      },
    )
    test.each(['conductor', 'splice', 'block', 'ground-point', 'hose'])('in vapour, %s: not judged', (kind) => {
      expect(of({ zone: 'vapour', kind })).toBeUndefined()
    })
    test.each(['conductor', 'hose', 'relay', 'block'])('in liquid fuel, %s: asked, for fuel dissolves what was not made for it', (kind) => {
      expect(of({ zone: 'immersed', kind })?.verdict).toBe('unknown')
    })
    test('what it says', () => {
      const found = of({ zone: 'immersed' })
      expect(found?.says).toBe('Sender stands in Tank, which holds liquid fuel; what it withstands is not known.')
      expect(found?.remedy).toBe('Find out: the fuel it withstands.')
      expect(found?.figures).toEqual({ 'fuel the part withstands': null, 'fuel in Tank': 'liquid fuel' })
    })
  })

  test('the poorer grade of the two is the evidence', () => {
    const graded = (part: 'marked' | 'assumed', zone: 'measured' | 'typical') =>
      of({ part: 'vapour', zone: 'vapour', more: { evidence: { fuel: part } }, zoned: { evidence: { fuel: zone } } })?.evidence
    expect(graded('marked', 'measured')).toBe('measured')
    expect(graded('marked', 'typical')).toBe('typical')
    expect(graded('assumed', 'measured')).toBe('assumed')
    expect(of({ part: 'vapour', zone: 'vapour', more: { evidence: { fuel: 'marked' } } })?.evidence).toBe('assumed')
  })

  describe('nothing to judge', () => {
    test('a zone that states nothing of fuel', () => expect(of({ part: 'none' })).toBeUndefined())
    test('a zone without fuel', () => {
      expect(of({ part: 'none', zone: 'none' })).toBeUndefined()
      expect(of({ zone: 'none' })).toBeUndefined()
    })
    test('a part in no zone', () => {
      const document = placed({ part: 'none', zone: 'vapour' })
      const nowhere = document.components.map(({ zone: _, ...component }) => component)
      expect(judged({ ...document, components: nowhere }, 'zone-fuel', 'it')).toBeUndefined()
    })
  })
})
