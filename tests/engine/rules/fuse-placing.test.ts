/** A fuse stands alone on its conductor, in the feed: 46 CFR 111.50-3(c) and 183.380(g) (read) name the two ways it may not. */
import { expect, test } from 'vitest'
import type { VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, ohms, type Parts, wiring } from '../solve/wiring.ts'
import { judged } from './judged.ts'

const fuse: Parts[string] = ['fuse', { rated_A: 10, rated_V: 32, form: 'C' }]
const unrated: Parts[string] = ['fuse', { rated_V: 32, form: 'C' }]
const judge = (document: VehicleDocument, device = 'f') => judged(document, 'fuse-placing', device)
const circuit = (parts: Parts, joins: readonly string[]) =>
  wiring({ parts: { bat: battery(12, 0.01), load: draws(1), ...parts }, joins, conditions: [off] })

test('alone in its feed: clear', () => {
  const found = judge(circuit({ f: fuse }, ['bat:+ > f:in', 'f:out > load:+', 'load:- > bat:-']))
  expect(found).toMatchObject({ verdict: 'clear', value: null, limit: null, missing: [], evidence: 'datasheet' })
  expect(found?.says).toBe('f stands alone in its feed.')
})

test('in a return: tight', () => {
  const found = judge(circuit({ f: fuse }, ['bat:+ > load:+', 'load:- > f:in', 'f:out > bat:-']))
  expect(found).toMatchObject({ verdict: 'tight' })
  expect(found?.says).toBe('f stands in a return: when it opens, the feed stays live.')
  expect(found?.remedy).toBe('Fit one fuse of the right rating in the feed.')
})

test('two side by side: tight, each names the other', () => {
  const document = circuit({ f: fuse, g: fuse, w: ohms(0.1) }, [
    'bat:+ > f:in',
    'bat:+ > g:in',
    'f:out > w:a',
    'g:out > w:a',
    'w:b > load:+',
    'load:- > bat:-',
  ])
  expect(judge(document)).toMatchObject({ verdict: 'tight', says: 'f stands in parallel with g.' })
  expect(judge(document, 'g')).toMatchObject({ verdict: 'tight', says: 'g stands in parallel with f.' })
})

test('a fuse turned round beside a breaker, and a third through a block', () => {
  const document = circuit({ f: fuse, b: ['breaker', { rated_A: 10, rated_V: 32 }], h: fuse, box: ['block', {}] }, [
    'bat:+ > f:in',
    'f:out > box:1',
    'bat:+ > b:out',
    'b:in > box:2',
    'bat:+ > h:in',
    'h:out > box:3',
    'box:4 > load:+',
    'load:- > bat:-',
  ])
  expect(judge(document)?.says).toBe('f stands in parallel with b and h.')
  expect(judge(document, 'b')?.says).toBe('b stands in parallel with f and h.')
})

test('two in a return side by side: that they stand in a return is told', () => {
  const found = judge(circuit({ f: fuse, g: fuse }, ['bat:+ > load:+', 'load:- > f:in', 'load:- > g:in', 'f:out > bat:-', 'g:out > bat:-']))
  expect(found?.says).toContain('stands in a return')
})

test('two circuits from one bar are not side by side, whatever is known of their fuses and wires', () => {
  const wires: readonly Parts[string][] = [ohms(0.1), ['conductor', {}]]
  for (const device of [fuse, unrated, ['fuse', { rated_A: 10, rated_V: 32, resistance_ohm: 0 }] as const])
    for (const wire of wires) {
      const found = judge(
        circuit({ bar: ['block', {}], f: device, g: device, w: wire, v: wire, lamp: draws(1) }, [
          'bat:+ > bar:1',
          'bar:2 > f:in',
          'bar:3 > g:in',
          'f:out > w:a',
          'g:out > v:a',
          'w:b > load:+',
          'v:b > lamp:+',
          'load:- > bat:-',
          'lamp:- > bat:-',
        ]),
      )
      expect(found?.verdict).toBe('clear')
    }
})

test('two in series are not side by side, though neither’s resistance is known', () => {
  const document = circuit({ f: unrated, g: unrated }, ['bat:+ > f:in', 'f:out > g:in', 'g:out > load:+', 'load:- > bat:-'])
  expect(judge(document)?.verdict).toBe('clear')
  expect(judge(document, 'g')?.verdict).toBe('clear')
})

test('a wire, a switch or a block beside it is no device', () => {
  const document = circuit({ f: fuse, w: ohms(0.1), s: ['switch', { rated_A: 10, rated_V: 16 }] }, [
    'bat:+ > f:in',
    'f:out > load:+',
    'bat:+ > w:a',
    'w:b > load:+',
    'bat:+ > s:in',
    's:out > load:+',
    'load:- > bat:-',
  ])
  expect(judge(document)?.verdict).toBe('clear')
})

test('one that nothing feeds is not judged', () => {
  expect(judge(circuit({ f: fuse }, ['bat:+ > load:+', 'load:- > bat:-']))).toBeUndefined()
})

test('on an unfinished path nothing is clear', () => {
  const document = circuit({ f: fuse }, ['bat:+ > f:in', 'f:out > load:+', 'load:- > bat:-'])
  const components = document.components.map((one) => (one.key === 'load' ? { ...one, unfinished: 'new lamp, wiring not entered' } : one))
  expect(judge({ ...document, components })).toMatchObject({ verdict: 'unknown', missing: ['new lamp, wiring not entered'] })
})
