/** Parts of intermittent duty: clear while cranking, over or tight where a condition leaves them on (common practice; duty is the part's own). */
import { expect, test } from 'vitest'
import type { Condition, Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, running, wiring } from '../solve/wiring.ts'
import { vehicle } from '../vehicle-builder.ts'
import { judged } from './judged.ts'

const cranking: Condition = { key: 'k', name: 'cranking', engine: 'cranking' }
const named = (condition: Condition, ...on: readonly string[]): Condition => ({ ...condition, on })
const circuit = (conditions: readonly Condition[], given: { readonly relay?: Ratings; readonly load?: Ratings } = {}) =>
  wiring({
    parts: {
      bat: battery(12, 0.01),
      r: ['relay', { rated_V: 16, make_A: 200, ...given.relay }],
      load: draws(50, given.load),
      other: draws(1),
    },
    joins: ['bat:+ > r:30', 'r:87 > load:+', 'load:- > bat:-', 'bat:+ > other:+', 'other:- > bat:-'],
    conditions,
  })
const judge = (document: VehicleDocument, component = 'r') => judged(document, 'contact-duty', component)
const brief: Ratings = { duty: 'intermittent' }

test('a relay that works while cranking: clear', () => {
  const found = judge(circuit([cranking], { relay: brief, load: { starter: true } }))
  expect(found).toMatchObject({ verdict: 'clear', value: null, limit: null, condition: 'k', missing: [] })
  expect(found?.says).toBe('r is of intermittent duty and works while cranking (cranking).')
})

test('a relay that a named condition holds in: over', () => {
  const found = judge(circuit([named(running, 'load')], { relay: brief }))
  expect(found).toMatchObject({ verdict: 'over', condition: 'r' })
  expect(found?.says).toBe('r is of intermittent duty and stays on (running).')
  expect(found?.remedy).toBe('Fit a part of continuous duty, or leave it off in this condition.')
})

test('its coil recorded or not, and its break contact: only what it holds in counts', () => {
  const coiled = circuit([named(running, 'load')], { relay: brief })
  const joins = [...coiled.joins, { from: 'bat:+', to: 'r:86' }, { from: 'r:85', to: 'bat:-' }]
  expect(judge({ ...coiled, joins })).toMatchObject({ verdict: 'over' })
  const both = [...coiled.joins.filter((join) => join.to !== 'other:+'), { from: 'r:87a', to: 'other:+' }]
  expect(judge({ ...coiled, joins: both })).toMatchObject({ verdict: 'over' })
  const rested = coiled.joins.map((join) => (join.from === 'r:87' ? { ...join, from: 'r:87a' } : join))
  expect(judge({ ...coiled, joins: rested })).toBeUndefined()
})

test('cranking and left on: the worse is told', () => {
  const document = circuit([cranking, named(running, 'load')], { relay: brief, load: { starter: true } })
  expect(judge(document)).toMatchObject({ verdict: 'over', condition: 'r' })
})

test('a load that a named condition leaves on: tight, never over', () => {
  const found = judge(circuit([named(off, 'load')], { load: brief }), 'load')
  expect(found).toMatchObject({ verdict: 'tight', condition: 'o' })
  expect(found?.says).toBe('load is of intermittent duty and is on (off); for how long is not recorded.')
  expect(judge(circuit([cranking], { load: { ...brief, essential: true } }), 'load')).toMatchObject({ verdict: 'clear', condition: 'k' })
})

test('what is not on is not judged, cranking or not', () => {
  expect(judge(circuit([named(running, 'other')], { relay: brief }))).toBeUndefined()
  expect(judge(circuit([named(running, 'other')], { load: brief }), 'load')).toBeUndefined()
  // The winch's relay does not work while the starter turns.
  expect(judge(circuit([cranking], { relay: brief }))).toBeUndefined()
  expect(judge(circuit([cranking], { load: brief }), 'load')).toBeUndefined()
  const opened: Condition = { ...named(running, 'load'), open: ['load'] }
  expect(judge(circuit([opened], { load: brief }), 'load')).toBeUndefined()
})

test('“everything on” claims nothing about how long', () => {
  expect(judge(circuit([off, running], { relay: brief }))).toBeUndefined()
  expect(judge(circuit([off, running], { load: brief }), 'load')).toBeUndefined()
})

test('continuous duty, or none stated', () => {
  for (const duty of [{ duty: 'continuous' }, {}]) {
    expect(judge(circuit([cranking, named(running, 'load')], { relay: duty, load: { ...duty, starter: true } }))).toBeUndefined()
    expect(judge(circuit([named(running, 'load')], { load: duty }), 'load')).toBeUndefined()
  }
})

test('evidence is that of the duty', () => {
  const conditions = [named(running, 'l1')]
  expect(judge(vehicle({ conditions, relay: { make_A: 30, ...brief } }), 'r1')).toMatchObject({ verdict: 'over', evidence: 'datasheet' })
  expect(judge(circuit([named(running, 'load')], { relay: brief }))?.evidence).toBe('assumed')
})
