/** Volts at a relay's coil against what it needs when hot: two makers' examples and rows by hand. */
import { describe, expect, test } from 'vitest'
import type { Component, Condition, Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, ohms, type Parts, running, wiring } from '../solve/wiring.ts'
import { vehicle } from '../vehicle-builder.ts'
import { judged } from './judged.ts'

type Given = {
  readonly relay?: Ratings
  readonly bat?: Parts[string]
  readonly load?: Ratings
  readonly ambient_degC?: number | null
  readonly conditions?: readonly Condition[]
  readonly feed?: Parts[string]
  readonly more?: Parts
  readonly joins?: readonly string[]
}
/**
 * An 80 Ω coil behind 19.99 Ω of wire and 0.01 Ω of a 12 V battery: 12·80/100 = 9.6 V. The load on its contact takes nothing.
 * Wires lie outside the zone, so that their resistance holds.
 */
const coil = (given: Given = {}) => {
  const ambient_degC = given.ambient_degC === undefined ? 20 : given.ambient_degC
  return wiring({
    parts: {
      bat: given.bat ?? battery(12, 0.01),
      w: given.feed ?? ohms(9.995, { length_m: 2 }),
      r: ['relay', { rated_V: 16, make_A: 40, coil_ohm: 80, ...given.relay }, ambient_degC === null ? {} : { zone: 'z' }],
      load: draws(0, given.load),
      ...given.more,
    },
    joins: ['bat:+ > w:a', 'w:b > r:86', 'r:85 > bat:-', 'bat:+ > r:30', 'r:87 > load:+', 'load:- > bat:-', ...(given.joins ?? [])],
    conditions: given.conditions ?? [off],
    ...(ambient_degC === null ? {} : { ambient_degC }),
  })
}
const judge = (document: VehicleDocument, relay = 'r') => judged(document, 'coil-pick-up', relay)

describe('the need against 9.6 V at the coil, at 20 °C', () => {
  test.each([
    ['1.1 × 8.29 V = 9.12 V: 95 %', 9.12 / 1.1, 'clear'],
    ['9.121 V', 9.121 / 1.1, 'tight'],
    ['9.6 V: at the limit', 9.6 / 1.1, 'tight'],
    ['9.601 V', 9.601 / 1.1, 'over'],
  ])('%s', (_, pickUp20_V, verdict) => {
    const found = judge(coil({ relay: { pickUp20_V } }))
    expect(found).toMatchObject({ verdict, unit: 'V', tightAbove: 0.95, missing: [] })
    expect(found?.value).toBeCloseTo(9.6, 9)
    expect(found?.limit).toBeCloseTo(1.1 * pickUp20_V, 9)
  })
  test('the figures by hand', () => {
    const found = judge(coil({ relay: { pickUp20_V: 7.2 }, ambient_degC: 85 }))
    expect(found?.names).toEqual(['pick-up voltage at 20 °C', 'ambient, Ta', 'pick-up voltage at that ambient', 'volts at the coil'])
    expect(found?.units).toEqual(['V', '°C', 'V', 'V'])
    expect(found?.figure('pick-up voltage at 20 °C')).toBe(7.2)
    expect(found?.figure('ambient, Ta')).toBe(85)
    // 7.2·319.5/254.5 = 9.0389 V.
    expect(found?.number('pick-up voltage at that ambient')).toBeCloseTo(9.0389, 4)
    expect(found?.number('volts at the coil')).toBeCloseTo(9.6, 9)
    expect(found?.limit).toBeCloseTo(9.9428, 4)
    expect(found?.verdict).toBe('over')
    expect(found?.says).toBe('The coil of r gets 9.6 V against a need when hot of 9.94 V (off).')
  })
})

// Relay makers' application notes (read): 13 V at 25 °C are 18 V at 125 °C; 16 V at 25 °C are 19.7 V at 85 °C.
test.each([
  [13, 125, 18.01, 0.02],
  [16, 85, 19.699, 0.02],
])('%d V at 25 °C, at %d °C %f V', (at25_V, ambient_degC, hot_V, tolerance) => {
  const pickUp20_V = (at25_V * (234.5 + 20)) / (234.5 + 25)
  const found = judge(coil({ relay: { pickUp20_V, rated_V: 32 }, ambient_degC }))
  expect(Math.abs((found?.number('pick-up voltage at that ambient') ?? 0) - hot_V)).toBeLessThan(tolerance)
})

describe('a pick-up voltage not stated: two thirds of the nominal voltage (memory), graded typical', () => {
  test('8 V of 12 V', () => {
    const found = judge(coil())
    expect(found?.number('pick-up voltage at 20 °C')).toBeCloseTo(8, 12)
    expect(found?.limit).toBeCloseTo(8.8, 9)
    expect(found?.verdict).toBe('clear')
  })
  test('16 V of 24 V', () => {
    const found = judge(coil({ bat: ['battery', { nominal_V: 24, openCircuit_V: 24, internalResistance_ohm: 0.01 }] }))
    expect(found?.limit).toBeCloseTo(17.6, 9)
    expect(found?.value).toBeCloseTo(19.2, 9)
  })
  test('its grade', () => {
    const document = vehicle({
      extraJoins: [
        { from: 'bat:+', to: 'r1:86' },
        { from: 'r1:85', to: 'bat:-' },
      ],
    })
    expect(judge(document, 'r1')).toMatchObject({ verdict: 'clear', evidence: 'typical' })
    const stated = vehicle({
      relay: { make_A: 30, rated_V: 16, contactResistance_ohm: 0.001, pickUp20_V: 7.2 },
      extraJoins: [
        { from: 'bat:+', to: 'r1:86' },
        { from: 'r1:85', to: 'bat:-' },
      ],
    })
    expect(judge(stated, 'r1')).toMatchObject({ verdict: 'clear', evidence: 'measured' })
    const zones = [{ key: 'z', name: 'zone', ambient_degC: 25 }]
    expect(judge({ ...stated, zones }, 'r1')?.evidence).toBe('assumed')
    // A typical pick-up first, then an assumed ambient: the poorer of the two.
    expect(judge({ ...document, zones }, 'r1')?.evidence).toBe('assumed')
    expect(judge({ ...stated, zones: [{ key: 'z', name: 'zone' }] }, 'r1')).toMatchObject({ verdict: 'unknown', evidence: 'assumed' })
  })
})

test('a coil fed from its other end gets as much', () => {
  const document = coil({ relay: { pickUp20_V: 7.2 } })
  const joins = document.joins.map(({ from, to }) => ({
    from: from === 'r:85' ? 'r:86' : from,
    to: to === 'r:86' ? 'r:85' : to,
  }))
  const found = judge({ ...document, joins })
  expect(found?.limit).toBeCloseTo(7.92, 9)
})

test('what its return drops is lost to the coil', () => {
  // The same 19.99 Ω, now behind the coil: its ends stand at 12 and 2.4 V.
  const document = coil({ relay: { pickUp20_V: 7.2 } })
  const joins = document.joins
    .filter((join) => join.to !== 'w:a' && join.to !== 'r:86' && join.from !== 'r:85')
    .concat([
      { from: 'bat:+', to: 'r:86' },
      { from: 'r:85', to: 'w:a' },
      { from: 'w:b', to: 'bat:-' },
    ])
  expect(judge({ ...document, joins })?.value).toBeCloseTo(9.6, 9)
})

describe('what is not known', () => {
  test('the ambient', () => {
    const found = judge(coil({ ambient_degC: null, relay: { pickUp20_V: 7.2 } }))
    expect(found).toMatchObject({ verdict: 'unknown', limit: null, missing: ['ambient temperature of its zone'] })
    expect(found?.value).toBeCloseTo(9.6, 9)
    expect(found?.figure('pick-up voltage at that ambient')).toBeNull()
  })
  test('what drives the coil', () => {
    const document = (conditions: readonly Condition[]) =>
      wiring({
        parts: { bat: battery(12, 0.01), r: ['relay', { rated_V: 16, make_A: 40 }], load: draws(1) },
        joins: ['bat:+ > r:30', 'r:87 > load:+', 'load:- > bat:-'],
        conditions,
      })
    const found = judge(document([off, running]))
    expect(found).toMatchObject({
      verdict: 'unknown',
      value: null,
      limit: null,
      condition: 'o',
      evidence: 'assumed',
      missing: ['what drives the coil of r'],
    })
    expect(found?.says).toBe('The coil of r gets an unknown voltage: what drives the coil of r not known.')
    // Also where one pin alone is joined.
    const single = document([off])
    const joins = single.joins.filter((join) => join.from !== 'r:87')
    expect(judge({ ...single, joins: [...joins, { from: 'bat:+', to: 'load:+' }] })?.verdict).toBe('unknown')
    // Also while cranking, whatever it feeds.
    expect(judge(document([{ key: 'k', name: 'cranking', engine: 'cranking' }]))?.verdict).toBe('unknown')
  })
  test('one end of it', () => {
    for (const end of ['w:b > r:86', 'r:85 > bat:-']) {
      const document = coil()
      const joins = document.joins.filter((join) => `${join.from} > ${join.to}` !== end)
      expect(judge({ ...document, joins })).toMatchObject({
        verdict: 'unknown',
        value: null,
        missing: ['a feed to its coil in this condition'],
      })
    }
  })
  test('neither ambient nor a feed', () => {
    const document = coil({ ambient_degC: null })
    const joins = document.joins.filter((join) => join.to !== 'r:86')
    expect(judge({ ...document, joins })?.missing).toEqual(['ambient temperature of its zone', 'a feed to its coil in this condition'])
  })
  test('a resistance on the coil’s way: it gets at most this', () => {
    const bare: Parts[string] = ['conductor', { material: 'copper', crossSection_mm2: 0.75 }]
    const found = judge(coil({ feed: bare, relay: { pickUp20_V: 7.2 } }))
    expect(found).toMatchObject({ verdict: 'unknown', missing: ['resistance of w'] })
    expect(judge(coil({ feed: bare, relay: { pickUp20_V: 11 } }))).toMatchObject({ verdict: 'over' })
  })
  test('a load of unknown current on the coil’s way; one elsewhere is no matter', () => {
    const unknown: Parts = { lamp: ['load', { rated_V: 12 }] }
    const found = judge(coil({ more: unknown, joins: ['w:b > lamp:+', 'lamp:- > bat:-'], relay: { pickUp20_V: 7.2 } }))
    expect(found).toMatchObject({ verdict: 'unknown', missing: ['current of lamp'] })
    expect(found?.says).toBe('The coil of r gets at most 9.6 V against a need when hot of 7.92 V (off). Not known: current of lamp.')
    expect(judge(coil({ more: unknown, joins: ['w:b > lamp:+', 'lamp:- > bat:-'], relay: { pickUp20_V: 9 } }))?.verdict).toBe('over')
    expect(judge(coil({ more: unknown, joins: ['r:87 > lamp:+', 'lamp:- > bat:-'], relay: { pickUp20_V: 7.2 } }))).toMatchObject({
      verdict: 'clear',
      missing: [],
    })
  })
})

describe('when it counts', () => {
  const cranking: Condition = { key: 'k', name: 'cranking', engine: 'cranking' }
  const forced: Condition = { ...cranking, on: ['load'] }
  test('only where it works', () => {
    expect(judge(coil({ conditions: [{ key: 'n', name: 'none', engine: 'off', on: [] }] }))).toBeUndefined()
    expect(judge(coil({ conditions: [{ key: 'n', name: 'none', engine: 'off', on: [] }, running] }))).toMatchObject({ condition: 'r' })
  })
  test('while cranking, only where it feeds a starter or what is essential', () => {
    expect(judge(coil({ conditions: [forced] }))).toBeUndefined()
    expect(judge(coil({ conditions: [cranking], load: { essential: true } }))).toMatchObject({ condition: 'k', verdict: 'clear' })
    expect(judge(coil({ conditions: [cranking], load: { starter: true } }))).toMatchObject({ condition: 'k', verdict: 'clear' })
    const pair = (ratings: Ratings) =>
      judge(coil({ conditions: [forced], more: { other: draws(0, ratings) }, joins: ['r:87 > other:+', 'other:- > bat:-'] }))
    expect(pair({ essential: true })?.verdict).toBe('clear')
    expect(pair({})).toBeUndefined()
  })
  test('the condition that is worst', () => {
    // 4 A more through 0.5 Ω of the battery: (12 − 2)·80/100.49 at the coil.
    const document = coil({
      bat: battery(12, 0.5),
      more: { lamp: draws(4) },
      joins: ['bat:+ > lamp:+', 'lamp:- > bat:-'],
      conditions: [
        { ...off, on: ['load'] },
        { ...running, on: ['load', 'lamp'] },
      ],
    })
    expect(judge(document)).toMatchObject({ condition: 'r', verdict: 'over' })
    expect(judge(document)?.value).toBeCloseTo((10 * 80) / 100.49, 6)
  })
})

test('nothing is joined to it', () => {
  const document = coil()
  const spare: Component = { key: 'spare', name: 'spare', part: 'r', zone: 'z' }
  expect(judge({ ...document, components: [...document.components, spare] }, 'spare')).toBeUndefined()
})
