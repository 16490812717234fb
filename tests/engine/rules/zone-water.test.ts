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
  const it: Component = { key: 'it', name: 'Pump relay', part: 'it', zone: 'arch' }
  return {
    ...document,
    zones: [{ key: 'arch', name: 'Wheel arch', ...(zone === undefined ? {} : { ingress: zone }), ...zoned }],
    parts: [...document.parts, { key: 'it', kind, name: 'it', ratings: part === undefined ? {} : { ingress: part }, ...more }],
    components: [...document.components, it],
  }
}
const of = (given: Given) => judged(placed(given), 'zone-water', 'it')

/** Which of the zone's codes a part of this code meets. */
const meets = (part: string, zones: readonly string[]) => zones.filter((zone) => of({ part, zone })?.verdict === 'clear')
const fails = (part: string, zones: readonly string[]) => zones.filter((zone) => of({ part, zone })?.verdict === 'over')

describe('zone-water', () => {
  // IEC 60529, first numeral (read in comparisons): each includes those below it. ISO 20653 writes 5K and 6K for the same dust (memory).
  const solids = ['1', '2', '3', '4', '5', '6'].map((numeral) => `IP${numeral}X`)
  test.each([
    ['IP0X', 0],
    ['IP1X', 1],
    ['IP2X', 2],
    ['IP3X', 3],
    ['IP4X', 4],
    ['IP5X', 5],
    ['IP6X', 6],
    ['IP5KX', 5],
    ['IP6KX', 6],
  ] as const)('solids: %s meets so many of the six', (part, met) => {
    expect(meets(part, solids)).toEqual(solids.slice(0, met))
    expect(fails(part, solids)).toEqual(solids.slice(met))
  })
  test('solids: a zone that asks for 5K or 6K', () => {
    expect(meets('IP5X', ['IP5KX', 'IP6KX'])).toEqual(['IP5KX'])
    expect(meets('IP6KX', ['IP5KX', 'IP6KX'])).toEqual(['IP5KX', 'IP6KX'])
  })

  // IEC 60529, second numeral (read in comparisons): to 6 each includes those below it; 7, 8 and 9 do not include the jets of 5 and 6, they include 4.
  // 4K and 6K of ISO 20653 are the same tests at raised pressure (memory). 8 is longer and deeper than 7.
  const waters = ['1', '2', '3', '4', '4K', '5', '6', '6K', '7', '8', '9', '9K'].map((numeral) => `IPX${numeral}`)
  test.each([
    ['IPX0', ''],
    ['IPX1', '1'],
    ['IPX2', '1 2'],
    ['IPX3', '1 2 3'],
    ['IPX4', '1 2 3 4'],
    ['IPX4K', '1 2 3 4 4K'],
    ['IPX5', '1 2 3 4 5'],
    ['IPX6', '1 2 3 4 5 6'],
    ['IPX6K', '1 2 3 4 4K 5 6 6K'],
    ['IPX7', '1 2 3 4 7'],
    ['IPX8', '1 2 3 4 7 8'],
    ['IPX9', '1 2 3 4 9 9K'],
    ['IPX9K', '1 2 3 4 9 9K'],
  ] as const)('water: %s meets %s', (part, numerals) => {
    const met = numerals === '' ? [] : numerals.split(' ').map((numeral) => `IPX${numeral}`)
    expect(meets(part, waters)).toEqual(met)
    expect(fails(part, waters)).toEqual(waters.filter((zone) => !met.includes(zone)))
  })

  test.each([
    ['both met', 'IP67', 'IP54', 'clear'],
    ['both just met', 'IP54', 'IP54', 'clear'],
    ['dust not met', 'IP44', 'IP54', 'over'],
    ['water not met', 'IP53', 'IP54', 'over'],
    ['immersion is no jet', 'IP67', 'IP65', 'over'],
    ['a jet is no immersion', 'IP65', 'IP67', 'over'],
    ['a hot jet and an immersion are two tests', 'IP69K', 'IP67', 'over'],
    ['only water asked, dust not stated', 'IPX5', 'IPX4', 'clear'],
    ['only dust asked, water not stated', 'IP6X', 'IP5X', 'clear'],
    ['no dust asked (0), dust not stated', 'IPX5', 'IP04', 'clear'],
    ['no water asked (0), water not stated', 'IP6X', 'IP50', 'clear'],
    ['dust asked and not stated, water met', 'IPX5', 'IP54', 'unknown'],
    ['water asked and not stated, dust met', 'IP6X', 'IP54', 'unknown'],
    ['dust asked and not stated, water not met', 'IPX3', 'IP54', 'over'],
    ['water asked and not stated, dust not met', 'IP4X', 'IP54', 'over'],
  ] as const)('%s: %s where %s is asked', (_, part, zone, verdict) => {
    const found = of({ part, zone })
    expect([found?.verdict, found?.value, found?.limit, found?.unit, found?.used]).toEqual([verdict, null, null, '', null])
    expect(found?.missing).toEqual(verdict === 'unknown' ? ['ingress code'] : [])
    expect(found?.figures).toEqual({ 'IP code of the part': part, 'IP code that Wheel arch asks for': zone })
  })

  test('what it says', () => {
    expect(of({ part: 'IP40', zone: 'IP54' })?.says).toBe('Pump relay is IP40 where Wheel arch asks for IP54.')
    expect(of({ part: 'IP40', zone: 'IP54' })?.remedy).toBe('Fit a sealed part, or move it to a drier place.')
    expect(of({ part: 'IPX5', zone: 'IP54' })?.says).toBe(
      'Pump relay is IPX5 where Wheel arch asks for IP54. What X stands for is not known.',
    )
    expect(of({ zone: 'IP54' })?.says).toBe('Pump relay stands in Wheel arch, which asks for IP54; what it is sealed to is not known.')
  })

  test('the poorer grade of the two is the evidence', () => {
    const graded = (part: 'marked' | 'assumed', zone: 'measured' | 'typical') =>
      of({ part: 'IP67', zone: 'IP54', more: { evidence: { ingress: part } }, zoned: { evidence: { ingress: zone } } })?.evidence
    expect(graded('marked', 'measured')).toBe('measured')
    expect(graded('marked', 'typical')).toBe('typical')
    expect(graded('assumed', 'measured')).toBe('assumed')
    expect(of({ part: 'IP67', zone: 'IP54', more: { evidence: { ingress: 'marked' } } })?.evidence).toBe('assumed')
  })

  describe('a part that states no code', () => {
    test.each(['relay', 'switch', 'module', 'connector'])('%s: water in its contacts harms it, so it is asked', (kind) => {
      const found = of({ zone: 'IP54', kind })
      expect([found?.verdict, found?.missing, found?.remedy]).toEqual(['unknown', ['ingress code'], 'Find out: ingress code.'])
      expect(found?.figures).toMatchObject({ 'IP code of the part': null })
    })
    test.each(['conductor', 'block', 'fuse', 'load', 'hose', 'battery', 'ground-point'])('%s: not judged', (kind) => {
      expect(of({ zone: 'IP54', kind })).toBeUndefined()
    })
    test.each(['conductor', 'fuse', 'load', 'pump'])('%s that states one is judged', (kind) => {
      expect(of({ part: 'IP40', zone: 'IP54', kind })?.verdict).toBe('over')
    })
  })

  describe('nothing to judge', () => {
    test('a zone that states no code', () => expect(of({ part: 'IP40' })).toBeUndefined())
    test.each(['IP00', 'IPXX', 'IPX0', 'IP0X'])('a zone that asks for nothing: %s', (zone) => {
      expect(of({ part: 'IP40', zone })).toBeUndefined()
      expect(of({ zone })).toBeUndefined()
    })
    test('a part in no zone', () => {
      const document = placed({ part: 'IP40', zone: 'IP54' })
      const nowhere = document.components.map(({ zone: _, ...component }) => component)
      expect(judged({ ...document, components: nowhere }, 'zone-water', 'it')).toBeUndefined()
    })
  })
})
