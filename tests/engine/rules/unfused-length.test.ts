/** Long because each row is a circuit of its own. */
import { describe, expect, test } from 'vitest'
import type { VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, type Parts, running, wiring } from '../solve/wiring.ts'
import { judged } from './judged.ts'

const wire = (length_m?: number, parallel?: number): Parts[string] => [
  'conductor',
  { material: 'copper', crossSection_mm2: 4 },
  { ...(length_m === undefined ? {} : { length_m }), ...(parallel === undefined ? {} : { parallel }) },
]
const fuse: Parts[string] = ['fuse', { rated_A: 20, rated_V: 32 }]

// bat:+ > w (the run) > fuse > v > load.
const one = (length_m?: number, more: Parts = {}, joins: readonly string[] = []) =>
  wiring({
    parts: { bat: battery(12.6, 0.01), w: wire(length_m), f: fuse, v: wire(3), load: draws(5), g: wire(2), ...more },
    joins: ['bat:+ > w:a', 'w:b > f:in', 'f:out > v:a', 'v:b > load:+', 'load:- > g:a', 'g:b > bat:-', ...joins],
    conditions: [off],
  })
const run = (document: VehicleDocument, component = 'w') => judged(document, 'unfused-length', component)

describe('unfused-length', () => {
  // 33 CFR 183.455(b) (read): 7 in, or 40 in if sheathed or enclosed the whole way. 7 · 0.0254 = 0.1778 m, printed 0.178; 40 · 0.0254 = 1.016 m.
  test.each([
    ['7 in', 7 * 0.0254, 'clear'],
    ['0.178 m: at the limit', 0.178, 'clear'],
    ['0.179 m', 0.179, 'tight'],
    ['40 in: at the limit', 1.016, 'tight'],
    ['40 in, as a product', 40 * 0.0254, 'tight'],
    ['1.017 m', 1.017, 'over'],
  ] as const)('%s', (_, length_m, verdict) => {
    const found = run(one(length_m))
    expect([found?.verdict, found?.value, found?.limit, found?.unit]).toEqual([verdict, length_m, 1.016, 'm'])
    expect(found?.used).toBeCloseTo(length_m / 1.016, 9)
  })

  test('its thresholds, its evidence and its sentence', () => {
    const found = run(one(0.5))
    // 0.178 / 1.016 = 0.175197
    expect(found?.tightAbove).toBeCloseTo(0.175197, 6)
    expect([found?.overAbove, found?.evidence, found?.missing]).toEqual([1, 'measured', []])
    expect(found?.says).toBe('The unfused run from bat to the far end of w is 0.5 m; 0.178 m is allowed, 1.016 m if sheathed all the way.')
    expect(found?.remedy).toMatch(/fuse nearer the battery/)
  })

  test('the run counts from the post: 0.6 m and then 0.5 m are 1.1 m to the far end of the second', () => {
    const document = wiring({
      parts: { bat: battery(12.6, 0.01), u: wire(0.6), w: wire(0.5), f: fuse, load: draws(5) },
      joins: ['bat:+ > u:a', 'u:b > w:a', 'w:b > f:in', 'f:out > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    expect([run(document, 'u')?.verdict, run(document, 'u')?.value]).toEqual(['tight', 0.6])
    const found = run(document)
    expect([found?.verdict, found?.value]).toEqual(['over', 1.1])
    expect(found?.figures).toEqual({ battery: 'bat', 'from its post to the far end, m': 1.1, 'of it this conductor, m': 0.5 })
    // By the figures: 1.1 − 0.5 leaves the 0.6 m of u.
    expect(
      (found?.figures['from its post to the far end, m'] as number) - (found?.figures['of it this conductor, m'] as number),
    ).toBeCloseTo(0.6, 9)
  })

  test('whichever end the post is at', () => {
    const document = wiring({
      parts: { bat: battery(12.6, 0.01), w: wire(0.5), f: fuse, load: draws(5) },
      joins: ['bat:+ > w:b', 'w:a > f:in', 'f:out > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    expect([run(document)?.verdict, run(document)?.value]).toEqual(['tight', 0.5])
  })

  test('two side by side are no longer than one', () => {
    expect(run(one(0, { w: wire(0.9, 2) }))?.value).toBe(0.9)
  })

  test('of two ways to the same point the shorter counts', () => {
    const document = wiring({
      parts: { bat: battery(12.6, 0.01), short: wire(0.3), long: wire(0.9), w: wire(0.4), f: fuse, load: draws(5) },
      joins: ['bat:+ > short:a', 'bat:+ > long:a', 'short:b > w:a', 'long:b > w:a', 'w:b > f:in', 'f:out > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    // 0.3 + 0.4, not 0.9 + 0.4 = 1.3.
    expect([run(document)?.verdict, run(document)?.value]).toEqual(['tight', 0.7])
  })

  test('with no device at all it is judged as well', () => {
    const document = wiring({
      parts: { bat: battery(12.6, 0.01), w: wire(1.5), load: draws(5) },
      joins: ['bat:+ > w:a', 'w:b > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    expect([run(document)?.verdict, run(document)?.value]).toEqual(['over', 1.5])
  })

  test('a switch ahead limits nothing: the run goes on behind it', () => {
    const document = wiring({
      parts: { bat: battery(12.6, 0.01), u: wire(0.7), s: ['switch', { rated_A: 30 }], w: wire(0.5), f: fuse, load: draws(5) },
      joins: ['bat:+ > u:a', 'u:b > s:in', 's:out > w:a', 'w:b > f:in', 'f:out > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    expect(run(document)?.value).toBeCloseTo(1.2, 9)
  })

  describe('a length that is not known', () => {
    test('its own', () => {
      const found = run(one())
      expect([found?.verdict, found?.value, found?.missing]).toEqual(['unknown', 0, ['length of w']])
      expect(found?.figures).toMatchObject({ 'of it this conductor, m': null })
      expect(found?.remedy).toBe('Find out: length of w.')
      expect(found?.says).toContain('at least 0 m (not known: length of w)')
    })
    const runOf = (first: number | undefined, second: number | undefined) =>
      wiring({
        parts: { bat: battery(12.6, 0.01), u: wire(first), w: wire(second), f: fuse, load: draws(5) },
        joins: ['bat:+ > u:a', 'u:b > w:a', 'w:b > f:in', 'f:out > load:+', 'load:- > bat:-'],
        conditions: [off],
      })
    test('of one before it', () => {
      const found = run(runOf(undefined, 0.5))
      expect([found?.verdict, found?.value, found?.missing]).toEqual(['unknown', 0.5, ['length of u']])
    })
    test('and what is known is past 1.016 m already', () => {
      const found = run(runOf(undefined, 1.2))
      expect([found?.verdict, found?.value, found?.missing]).toEqual(['over', 1.2, ['length of u']])
    })
  })

  // Two batteries, each with its own bare wire to the point where w begins.
  const between = (first?: number, second?: number) =>
    wiring({
      parts: { bat: battery(12.6, 0.01), aux: battery(12.6, 0.01), u: wire(first), v: wire(second), w: wire(0.1), f: fuse, load: draws(5) },
      joins: ['bat:+ > u:a', 'aux:+ > v:a', 'u:b > w:a', 'v:b > w:a', 'w:b > f:in', 'f:out > load:+', 'load:- > bat:-', 'aux:- > bat:-'],
      conditions: [off],
    })
  test.each([
    ['the longer from two batteries, the first', between(0.6, 0.3), 'tight', 0.7, 'bat'],
    ['the longer from two batteries, the second', between(0.3, 0.6), 'tight', 0.7, 'aux'],
    ['of two as long the first by its key', between(0.5, 0.5), 'tight', 0.6, 'aux'],
    ['one within, one of unknown length: unknown', between(0.8, undefined), 'unknown', 0.1, 'aux'],
    ['the same the other way about', between(undefined, 0.8), 'unknown', 0.1, 'bat'],
    ['one too long for certain beside one of unknown length: over', between(1.0, undefined), 'over', 1.1, 'bat'],
    ['the same the other way about', between(undefined, 1.0), 'over', 1.1, 'aux'],
    ['two too long: the longer', between(1.1, 2), 'over', 2.1, 'aux'],
  ] as const)('%s', (_, document, verdict, metres, from) => {
    const found = run(document)
    expect([found?.verdict, found?.figures.battery]).toEqual([verdict, from])
    expect(found?.value).toBeCloseTo(metres, 9)
  })

  test('over comes before unknown even where less of it is known', () => {
    // Known 1.02 + 0.1 = 1.12 m from bat; from aux 1.0 m and a wire of unknown length.
    const document = wiring({
      parts: {
        bat: battery(12.6, 0.01),
        aux: battery(12.6, 0.01),
        u: wire(1.02),
        v: wire(0.9),
        x: wire(),
        w: wire(0.1),
        f: fuse,
        load: draws(5),
      },
      joins: [
        'bat:+ > u:a',
        'aux:+ > v:a',
        'v:b > x:a',
        'u:b > w:a',
        'x:b > w:a',
        'w:b > f:in',
        'f:out > load:+',
        'load:- > bat:-',
        'aux:- > bat:-',
      ],
      conditions: [off],
    })
    const found = run(document)
    expect([found?.verdict, found?.missing, found?.figures.battery]).toEqual(['over', [], 'bat'])
    expect(found?.value).toBeCloseTo(1.12, 9)
  })

  test('a battery whose fuse stands at its own post asks nothing; the other one does', () => {
    const document = wiring({
      parts: { bat: battery(12.6, 0.01), aux: battery(12.6, 0.01), f: fuse, v: wire(0.2), w: wire(0.1), k: fuse, load: draws(5) },
      joins: ['bat:+ > f:in', 'f:out > w:a', 'aux:+ > v:a', 'v:b > w:a', 'w:b > k:in', 'k:out > load:+', 'load:- > bat:-', 'aux:- > bat:-'],
      conditions: [off],
    })
    const found = run(document)
    expect([found?.verdict, found?.figures.battery]).toEqual(['tight', 'aux'])
    expect(found?.value).toBeCloseTo(0.3, 9)
  })

  test('a spare wire on the post is live too: 2 m are over', () => {
    expect(run(one(0.5, { spare: wire(2) }, ['bat:+ > spare:a']), 'spare')).toMatchObject({ verdict: 'over', value: 2 })
  })
  describe('nothing to judge', () => {
    test('behind the fuse', () => expect(run(one(0.5), 'v')).toBeUndefined())
    test('behind a breaker', () => expect(run(one(0.5, { f: ['breaker', { rated_A: 20 }] }), 'v')).toBeUndefined())
    test('a return', () => expect(run(one(0.5), 'g')).toBeUndefined())
    // Cranking motor feeds are exempt (33 CFR 183.455, memory), and so is their return.
    test('the way of a starter, there and back; what only lamps hang on is not exempt', () => {
      const document = wiring({
        parts: {
          bat: battery(12.6, 0.01),
          thick: wire(1.5),
          starter: draws(150, { starter: true }),
          strap: wire(1.2),
          w: wire(1.2),
          load: draws(5),
        },
        joins: [
          'bat:+ > thick:a',
          'thick:b > starter:+',
          'starter:- > strap:a',
          'strap:b > bat:-',
          'bat:+ > w:a',
          'w:b > load:+',
          'load:- > bat:-',
        ],
        conditions: [off],
      })
      expect(run(document, 'thick')).toBeUndefined()
      expect(run(document, 'strap')).toBeUndefined()
      expect(run(document)?.verdict).toBe('over')
    })
    test('a battery’s wire to an alternator that no load hangs on', () => {
      const document = wiring({
        parts: {
          bat: battery(12.6, 0.01),
          alt: ['alternator', { setPoint_V: 14.4, output_A: 60 }],
          lead: wire(2),
          w: wire(0.1),
          f: fuse,
          load: draws(5),
        },
        joins: ['alt:+ > lead:a', 'lead:b > bat:+', 'alt:- > bat:-', 'bat:+ > w:a', 'w:b > f:in', 'f:out > load:+', 'load:- > bat:-'],
        conditions: [running],
      })
      expect(run(document, 'lead')).toBeUndefined()
      // From the alternator it is 2.1 m to the end of w; it limits itself, so only the battery counts.
      expect([run(document)?.verdict, run(document)?.value]).toEqual(['clear', 0.1])
    })
    test('a wire from a charger: it limits itself', () => {
      const document = wiring({
        parts: { sun: ['charger', { output_V: 14, output_A: 10 }], w: wire(2), load: draws(5) },
        joins: ['sun:out > w:a', 'w:b > load:+', 'load:- > sun:-'],
        conditions: [off],
      })
      expect(run(document)).toBeUndefined()
    })
  })
})
