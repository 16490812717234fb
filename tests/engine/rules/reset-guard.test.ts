import { describe, expect, test } from 'vitest'
import type { VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, type Parts, running, wiring } from '../solve/wiring.ts'
import { judged } from './judged.ts'

const breaker = (reset?: string): Parts[string] => ['breaker', { rated_A: 20, ...(reset === undefined ? {} : { reset }) }]
const fuse: Parts[string] = ['fuse', { rated_A: 30, rated_V: 32 }]
const automatic = breaker('automatic')

/** From bat's post: the parts in their order, the load last. */
const chain = (parts: Parts) => {
  const path = ['bat:+', ...Object.keys(parts).flatMap((key) => [`${key}:in`, `${key}:out`]), 'load:+']
  return wiring({
    parts: { bat: battery(12.6, 0.01), load: draws(5), ...parts },
    joins: [...path.flatMap((end, n) => (n % 2 === 0 ? [`${end} > ${path[n + 1]}`] : [])), 'load:- > bat:-'],
    conditions: [off],
  })
}
const of = (document: VehicleDocument, component = 'b') => judged(document, 'reset-guard', component)

// SAE J553 type 1 (read): a breaker that closes again by itself is used only with another limiting device ahead of it.
describe('reset-guard', () => {
  test('nothing ahead: tight, never over', () => {
    const found = of(chain({ b: automatic }))
    expect(found).toMatchObject({ verdict: 'tight', value: null, limit: null, unit: '', used: null, missing: [] })
    expect(found?.says).toBe('b resets by itself and nothing ahead of it ends a short from bat.')
    expect(found?.remedy).toBe('Put a fuse ahead of it, or fit a breaker that stays open.')
    expect(found?.figures).toEqual({})
  })

  test.each([
    ['a fuse', fuse],
    ['a breaker that is reset by hand', breaker('manual')],
    // SAE J553 type 2 (memory): it stays open while it is fed.
    ['a breaker that stays open while fed', breaker('modified')],
  ])('%s ahead: clear', (_, f) => {
    const found = of(chain({ f, b: automatic }))
    expect(found).toMatchObject({ verdict: 'clear', missing: [], remedy: '' })
    expect(found?.says).toBe('b resets by itself and has a device ahead of it.')
  })

  test('another of its kind ahead ends nothing', () => {
    const document = chain({ f: automatic, b: automatic })
    expect([of(document)?.verdict, of(document, 'f')?.verdict]).toEqual(['tight', 'tight'])
  })

  test('a fuse behind it is too late', () => expect(of(chain({ b: automatic, f: fuse }))?.verdict).toBe('tight'))
  test('a switch ahead limits nothing', () => {
    expect(of(chain({ s: ['switch', { rated_A: 30 }], b: automatic }))?.verdict).toBe('tight')
  })

  test('how the breaker ahead resets is not known: unknown, and named', () => {
    const found = of(chain({ f: breaker(), b: automatic }))
    expect([found?.verdict, found?.missing, found?.remedy]).toEqual(['unknown', ['how f resets'], 'Find out: how f resets.'])
    expect(found?.says).toBe('b resets by itself; whether f ahead of it does too is not known.')
    expect(of(chain({ f: breaker(), g: automatic, b: automatic }))?.missing).toEqual(['how f resets'])
    expect(of(chain({ f: breaker(), g: fuse, b: automatic }))?.verdict).toBe('clear')
  })

  describe('how it resets itself is not known', () => {
    test('and nothing stands ahead: unknown', () => {
      const found = of(chain({ b: breaker() }))
      expect([found?.verdict, found?.missing, found?.evidence]).toEqual(['unknown', ['how it resets'], 'assumed'])
      expect(found?.says).toBe('How b resets is not known, and nothing is sure to end a short ahead of it.')
    })
    test('and only an automatic one stands ahead', () => expect(of(chain({ f: automatic, b: breaker() }))?.verdict).toBe('unknown'))
    test('nor of the one ahead', () => expect(of(chain({ f: breaker(), b: breaker() }))?.missing).toEqual(['how it resets']))
    test('and a fuse stands ahead: it does not matter', () => expect(of(chain({ f: fuse, b: breaker() }))).toBeUndefined())
  })

  // A fuse at bat only; what `second` is stands between aux and the breaker.
  const fromTwo = (second: Parts[string], b: Parts[string] = automatic) =>
    wiring({
      parts: { bat: battery(12.6, 0.01), aux: battery(12.6, 0.01), f: fuse, s: second, b, load: draws(5) },
      joins: ['bat:+ > f:in', 'f:out > b:in', 'aux:+ > s:in', 's:out > b:in', 'b:out > load:+', 'load:- > bat:-', 'aux:- > bat:-'],
      conditions: [off],
    })
  test.each([
    ['each behind a fuse', fuse, 'clear', []],
    ['one behind nothing', ['switch', { rated_A: 30 }], 'tight', []],
    ['one behind a breaker of unknown reset', breaker(), 'unknown', ['how s resets']],
  ] as const)('two batteries, %s', (_, second, verdict, missing) => {
    const found = of(fromTwo(second as Parts[string]))
    expect([found?.verdict, found?.missing]).toEqual([verdict, missing])
    if (verdict === 'tight') expect(found?.says).toContain('a short from aux')
  })
  test('two batteries, one behind nothing, and how it resets is not known', () => {
    expect(of(fromTwo(['switch', { rated_A: 30 }], breaker()))?.verdict).toBe('unknown')
    expect(of(fromTwo(fuse, breaker()))).toBeUndefined()
  })

  test('the grade of its reset is the evidence', () => {
    const document = chain({ b: automatic })
    const evidence = { reset: 'marked' as const }
    expect(of(document)?.evidence).toBe('assumed')
    expect(of({ ...document, parts: document.parts.map((part) => (part.key === 'b' ? { ...part, evidence } : part)) })?.evidence).toBe(
      'marked',
    )
  })

  describe('nothing to judge', () => {
    test.each(['manual', 'modified'])('a breaker of %s reset', (reset) => expect(of(chain({ b: breaker(reset) }))).toBeUndefined())
    test('a fuse', () => expect(of(chain({ b: fuse }))).toBeUndefined())
    test('a breaker that no battery reaches: an alternator limits itself', () => {
      const document = wiring({
        parts: { alt: ['alternator', { setPoint_V: 14.4, output_A: 60 }], b: automatic, load: draws(5) },
        joins: ['alt:+ > b:in', 'b:out > load:+', 'load:- > alt:-'],
        conditions: [running],
      })
      expect(of(document)).toBeUndefined()
    })
    test('a breaker that nothing reaches', () => {
      const document = wiring({ parts: { bat: battery(12.6, 0.01), b: breaker(), c: automatic }, joins: [], conditions: [off] })
      expect([of(document), of(document, 'c')]).toEqual([undefined, undefined])
    })
  })
})
