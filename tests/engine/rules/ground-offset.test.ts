/** What other loads drop in a ground that electronics share: 0.1 V (SAE limits as quoted in a workshop manual, read). By hand. */
import { describe, expect, test } from 'vitest'
import type { Condition, Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, ohms, type Parts, running, wiring } from '../solve/wiring.ts'
import { vehicle } from '../vehicle-builder.ts'
import { judged } from './judged.ts'

type Given = {
  readonly ecu?: Ratings
  readonly pump?: Ratings
  readonly own_ohm?: number
  readonly shared?: Parts[string]
  readonly conditions?: readonly Condition[]
  readonly more?: Parts
  readonly joins?: readonly string[]
}
/** An ECU of 1 A by a wire of its own, and a pump of so much, to one splice; from there 10 mΩ to the battery. */
const grounded = (pump_A: number, given: Given = {}) =>
  wiring({
    parts: {
      bat: battery(12, 0.01),
      ecu: draws(1, { nature: 'electronic', ...given.ecu }),
      pump: draws(pump_A, { nature: 'motor', ...given.pump }),
      own: ohms(given.own_ohm ?? 0.05),
      star: ['splice', {}],
      shared: given.shared ?? ohms(0.01),
      ...given.more,
    },
    joins: [
      'bat:+ > ecu:+',
      'bat:+ > pump:+',
      'ecu:- > own:a',
      'own:b > star:1',
      'pump:- > star:2',
      'star:3 > shared:a',
      'shared:b > bat:-',
      ...(given.joins ?? []),
    ],
    conditions: given.conditions ?? [off],
  })
const judge = (document: VehicleDocument, load = 'ecu') => judged(document, 'ground-offset', load)

describe('(pump + 1 A) · 10 mΩ', () => {
  test.each([
    [8.9, 'clear', 0.099],
    [9, 'clear', 0.1],
    [9.01, 'tight', 0.1001],
    [90, 'tight', 0.91],
  ])('pump %f A: %s', (pump_A, verdict, value) => {
    const found = judge(grounded(pump_A))
    expect(found).toMatchObject({ verdict, limit: 0.1, unit: 'V', tightAbove: null, missing: [] })
    expect(found?.value).toBeCloseTo(value, 9)
  })
  test('the figures by hand: whole return less what is its own', () => {
    const found = judge(grounded(9.01))
    expect(found?.names).toEqual(['drop of its whole return', 'of it in wires of its own'])
    expect(found?.units).toEqual(['V', 'V'])
    expect(found?.number('drop of its whole return')).toBeCloseTo(0.05 + 0.1001, 9)
    expect(found?.number('of it in wires of its own')).toBeCloseTo(0.05, 9)
    expect(found?.says).toBe('The ground of ecu is lifted by 0.1 V of its 0.1 V allowance (off).')
    expect(found?.remedy).toBe('Take its ground by a wire of its own to the battery or the body’s common point.')
  })
  test('a long wire of its own lifts nothing for others', () => {
    expect(judge(grounded(8, { own_ohm: 1 }))).toMatchObject({ verdict: 'clear' })
    expect(judge(grounded(8, { own_ohm: 1 }))?.value).toBeCloseTo(0.09, 9)
  })
  test('a joint of its own on the way is no loss', () => {
    const document = grounded(8, { more: { joint: ['splice', {}], further: ohms(0.05) } })
    const joins = document.joins
      .filter((join) => join.from !== 'own:b')
      .concat([
        { from: 'own:b', to: 'joint:1' },
        { from: 'joint:2', to: 'further:a' },
        { from: 'further:b', to: 'star:1' },
      ])
    expect(judge({ ...document, joins })?.value).toBeCloseTo(0.09, 9)
  })
  test('a return all of its own', () => {
    const document = wiring({
      parts: { bat: battery(12, 0.01), ecu: draws(1, { nature: 'electronic' }), own: ohms(0.5) },
      joins: ['bat:+ > ecu:+', 'ecu:- > own:a', 'own:b > bat:-'],
      conditions: [off],
    })
    expect(judge(document)?.verdict).toBe('clear')
    expect(judge(document)?.value).toBeCloseTo(0, 9)
  })
  test('a return that is lifted the other way is not lifted', () => {
    // The alternator charges by the strap: its ground stands below the battery's by 20 A · 10 mΩ, whichever it is measured from.
    const document = wiring({
      parts: {
        bat: battery(12, 0.01),
        alt: ['alternator', { setPoint_V: 14, output_A: 60 }],
        body: ['chassis', {}],
        strap: ohms(0.01),
        ecu: draws(1, { nature: 'electronic' }),
      },
      joins: ['alt:+ > bat:+', 'alt:- > body:1', 'body:2 > strap:a', 'strap:b > bat:-', 'alt:+ > ecu:+', 'ecu:- > body:3'],
      conditions: [{ ...running, charge_A: 20 }],
    })
    expect(judge(document)).toMatchObject({ verdict: 'clear', value: 0 })
  })
})

describe('the worst condition', () => {
  const quiet: Condition = { key: 'q', name: 'quiet', engine: 'running', on: ['ecu'] }
  test('with the pump on', () => {
    expect(judge(grounded(20, { conditions: [quiet, off] }))).toMatchObject({ verdict: 'tight', condition: 'o' })
    expect(judge(grounded(20, { conditions: [quiet] }))).toMatchObject({ verdict: 'clear' })
    expect(judge(grounded(20, { conditions: [quiet] }))?.value).toBeCloseTo(0.01, 9)
  })
  test('cranking is left out', () => {
    const cranking: Condition = { key: 'k', name: 'cranking', engine: 'cranking', on: ['ecu', 'pump'] }
    expect(judge(grounded(20, { conditions: [cranking] }))).toBeUndefined()
    expect(judge(grounded(20, { conditions: [cranking, quiet] }))).toMatchObject({ condition: 'q', verdict: 'clear' })
  })
})

describe('what is not known', () => {
  const bare: Parts[string] = ['conductor', { material: 'copper' }]
  test('a resistance on its return', () => {
    const found = judge(grounded(5, { shared: bare }))
    expect(found).toMatchObject({ verdict: 'unknown', missing: ['resistance of shared'] })
    expect(judge(grounded(5, { more: { own: bare } }))).toMatchObject({ verdict: 'unknown', missing: ['resistance of own'] })
    // Past the allowance on what is known it stands.
    expect(judge(grounded(20, { more: { own: bare } }))?.verdict).toBe('tight')
  })
  test('one on its feed is no matter', () => {
    const document = grounded(5, { more: { w: bare } })
    const joins = [...document.joins.filter((join) => join.to !== 'ecu:+'), { from: 'bat:+', to: 'w:a' }, { from: 'w:b', to: 'ecu:+' }]
    expect(judge({ ...document, joins })).toMatchObject({ verdict: 'clear', missing: [] })
  })
  test('the current of a load on it', () => {
    const more: Parts = { fan: ['load', { rated_V: 12, nature: 'motor' }] }
    const joins = ['bat:+ > fan:+', 'fan:- > star:4']
    expect(judge(grounded(5, { more, joins }))).toMatchObject({ verdict: 'unknown', missing: ['current of fan'] })
    expect(judge(grounded(20, { more, joins }))?.verdict).toBe('tight')
    // One that returns elsewhere lifts nothing here.
    expect(judge(grounded(5, { more, joins: ['bat:+ > fan:+', 'fan:- > bat:-'] }))).toMatchObject({ verdict: 'clear', missing: [] })
  })
})

describe('nothing to judge', () => {
  test('what is no electronics', () => {
    expect(judge(grounded(20), 'pump')).toBeUndefined()
    expect(judge(grounded(20, { ecu: { nature: 'lamp' } }))).toBeUndefined()
  })
  test('what is off', () => {
    expect(judge(grounded(20, { conditions: [{ ...off, on: ['pump'] }] }))).toBeUndefined()
  })
  test('what has no return recorded', () => {
    const document = grounded(20)
    expect(judge({ ...document, joins: document.joins.filter((join) => join.from !== 'ecu:-') })).toBeUndefined()
  })
  test('what is not fed', () => {
    const document = grounded(20)
    expect(judge({ ...document, joins: document.joins.filter((join) => join.to !== 'ecu:+') })).toBeUndefined()
  })
})

test('a fuel pump with its own controller is electronics too', () => {
  const document = grounded(20)
  const parts = document.parts.map((part) => (part.key === 'ecu' ? { ...part, kind: 'pump' } : part))
  expect(judge({ ...document, parts })?.verdict).toBe('tight')
})

test('evidence is the poorest of the figures on its way', () => {
  const load = { behaviour: 'current', current_A: 1, rated_V: 12, nature: 'electronic' }
  // Its contact and fuse are stated, its wires by their size: all from sheets.
  expect(judge(vehicle({ load }), 'l1')).toMatchObject({ verdict: 'clear', evidence: 'datasheet' })
  expect(judge(vehicle({ load, relay: { make_A: 30, rated_V: 16 } }), 'l1')?.evidence).toBe('typical')
  expect(judge(grounded(5))?.evidence).toBe('assumed')
})
