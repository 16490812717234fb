import { describe, expect, test } from 'vitest'
import { battery, draws, off, type Parts, wiring } from '../solve/wiring.ts'
import { judged } from './judged.ts'

const wire = (length_m?: number): Parts[string] => [
  'conductor',
  { material: 'copper', crossSection_mm2: 25 },
  length_m === undefined ? {} : { length_m },
]
const fuse: Parts[string] = ['fuse', { rated_A: 100, rated_V: 32 }]

/** A link written from bat's post to aux's: `'fa w fb'` is fuse, wire, fuse. */
const link = (way: string, parts: Parts, joins: readonly string[] = []) => {
  const terminals = way
    .split(' ')
    .flatMap((key) => (parts[key]?.[0] === 'conductor' ? [`${key}:a`, `${key}:b`] : [`${key}:in`, `${key}:out`]))
  const path = ['bat:+', ...terminals, 'aux:+']
  return wiring({
    parts: { bat: battery(12.6, 0.01), aux: battery(12.6, 0.01), load: draws(5), ...parts },
    joins: [
      ...path.flatMap((end, n) => (n % 2 === 0 ? [`${end} > ${path[n + 1]}`] : [])),
      'aux:+ > load:+',
      'load:- > aux:-',
      'aux:- > bat:-',
      ...joins,
    ],
    conditions: [off],
  })
}
const of = (document: ReturnType<typeof link>, component = 'w') => judged(document, 'battery-link', component)

// 46 CFR 111.15-25 (read): an overload device in each battery conductor. 33 CFR 183.455(a), (b) (read): at the source, else within 7 in,
// else within 40 in (1.016 m) if sheathed the whole way.
describe('battery-link', () => {
  test('a fuse at both posts: clear, and no figures', () => {
    const found = of(link('fa w fb', { fa: fuse, w: wire(5), fb: fuse }))
    expect(found).toMatchObject({
      verdict: 'clear',
      value: null,
      limit: null,
      unit: '',
      used: null,
      missing: [],
      evidence: 'datasheet',
      remedy: '',
    })
    expect(found?.says).toBe('w links aux and bat guarded from both ends.')
    expect(found?.figures).toEqual({ 'device at aux': 'yes', 'device at bat': 'yes' })
  })

  test('a breaker does as well', () => {
    const document = link('fa w fb', { fa: ['breaker', { rated_A: 100 }], w: wire(5), fb: fuse })
    expect(of(document)?.verdict).toBe('clear')
  })

  test('a switch does not', () => {
    const document = link('fa w s', { fa: fuse, w: wire(5), s: ['switch', { rated_A: 100 }] })
    expect(of(document)?.verdict).toBe('over')
  })

  test('none at aux: over, and which end', () => {
    const found = of(link('fa w', { fa: fuse, w: wire(5) }))
    expect(found).toMatchObject({ verdict: 'over', value: null, missing: [], remedy: 'Put a fuse at each battery’s end of the link.' })
    expect(found?.says).toBe('w links aux and bat and has no fuse or breaker at the end of aux.')
    expect(found?.figures).toEqual({ 'device at aux': 'no', 'device at bat': 'yes' })
  })

  test('none at bat', () => {
    const found = of(link('w fb', { w: wire(5), fb: fuse }))
    expect([found?.verdict, found?.figures]).toEqual(['over', { 'device at aux': 'yes', 'device at bat': 'no' }])
  })

  test('none at all, however short', () => {
    const found = of(link('w', { w: wire(0.1) }))
    expect([found?.verdict, found?.figures]).toEqual(['over', { 'device at aux': 'no', 'device at bat': 'no' }])
  })

  // The fuse at aux's end; between it and bat's own fuse, or its post, `w`.
  test.each([
    ['0.5 m', [0.5], 'clear'],
    ['1.016 m: at the limit', [1.016], 'clear'],
    ['1.016 m in three pieces', [0.1, 0.2, 0.716], 'clear'],
    ['1.017 m', [1.017], 'over'],
    ['1.1 m in two pieces', [0.6, 0.5], 'over'],
  ] as const)('a device %s from the post', (_, lengths, verdict) => {
    const wires = Object.fromEntries(lengths.map((length_m, n) => [n === lengths.length - 1 ? 'w' : `u${n}`, wire(length_m)]))
    const found = of(link(`${Object.keys(wires).join(' ')} fb v fc`, { ...wires, fb: fuse, v: wire(3), fc: fuse }))
    expect([found?.verdict, found?.figures['device at bat']]).toEqual([verdict, verdict === 'clear' ? 'yes' : 'no'])
  })

  test('one fuse halfway, a metre to each post: each half lies within reach of it', () => {
    const document = link('w f v', { w: wire(1), f: fuse, v: wire(1) })
    expect([of(document)?.verdict, of(document, 'v')?.verdict]).toEqual(['clear', 'clear'])
  })

  test('a bare end at aux beyond a fuse near bat: only the wire on that side', () => {
    const document = link('w f v', { w: wire(0.5), f: fuse, v: wire(2) })
    expect([of(document)?.verdict, of(document, 'v')?.verdict]).toEqual(['clear', 'over'])
  })

  test('its length not known: unknown, and named', () => {
    const found = of(link('w fb v fc', { w: wire(), fb: fuse, v: wire(3), fc: fuse }))
    expect([found?.verdict, found?.missing, found?.remedy]).toEqual(['unknown', ['length of w'], 'Find out: length of w.'])
    expect(found?.says).toBe('w links aux and bat; how far the fuse sits from a post is not known.')
    expect(found?.figures).toEqual({ 'device at aux': 'yes', 'device at bat': null })
  })

  test('a length not known, and past 1.016 m without it', () => {
    expect(of(link('u w fb', { u: wire(), w: wire(1.1), fb: fuse }))?.verdict).toBe('over')
  })

  // bat — fa — w — node; node — v (2 m, bare) — aux; node — x (length not known) — third.
  test('of three batteries one end is bare and one not known: over, and nothing is asked', () => {
    const document = link('fa w v', { fa: fuse, w: wire(0.1), v: wire(2), x: wire(), third: battery(12.6, 0.01) }, [
      'w:b > x:a',
      'x:b > third:+',
      'third:- > bat:-',
    ])
    const found = of(document)
    expect([found?.verdict, found?.missing]).toEqual(['over', []])
    expect(found?.figures).toEqual({ 'device at aux': 'no', 'device at bat': 'yes', 'device at third': null })
  })

  // bat — w — node; node — v — aux, bare; node — x — fc — third: no device stands between bat and aux, though one stands before third.
  test('of two that it leads to one is bare: both ends of that link are', () => {
    const document = link('w v', { w: wire(0.2), v: wire(0.2), x: wire(0.2), fc: fuse, third: battery(12.6, 0.01) }, [
      'w:b > x:a',
      'x:b > fc:in',
      'fc:out > third:+',
      'third:- > bat:-',
    ])
    const found = of(document)
    expect([found?.verdict, found?.figures]).toEqual(['over', { 'device at aux': 'no', 'device at bat': 'no', 'device at third': 'yes' }])
  })

  // A tree of three: the pair aux–third has no device between its posts, and w is no part of that way.
  test('a pair that the conductor does not link says nothing of it', () => {
    const document = link('fa w v', { fa: fuse, w: wire(0.1), v: wire(0.3), x: wire(0.3), third: battery(12.6, 0.01) }, [
      'w:b > x:a',
      'x:b > third:+',
      'third:- > bat:-',
    ])
    expect(of(document)?.verdict).toBe('clear')
    expect([of(document, 'v')?.verdict, of(document, 'x')?.verdict]).toEqual(['over', 'over'])
  })

  describe('nothing to judge', () => {
    test('a wire to a load alone', () => {
      const document = link('fa w fb', { fa: fuse, w: wire(5), fb: fuse, y: wire(1), lamp: draws(1) }, [
        'fb:out > y:a',
        'y:b > lamp:+',
        'lamp:- > bat:-',
      ])
      expect(of(document, 'y')).toBeUndefined()
    })
    test('the strap between two negative posts', () => {
      const document = wiring({
        parts: { bat: battery(12.6, 0.01), aux: battery(12.6, 0.01), strap: wire(1), load: draws(5) },
        joins: ['bat:- > strap:a', 'strap:b > aux:-', 'aux:+ > load:+', 'load:- > aux:-'],
        conditions: [off],
      })
      expect(of(document, 'strap')).toBeUndefined()
    })
    test('batteries in series: one’s negative post to the other’s positive', () => {
      const document = wiring({
        parts: { bat: battery(12.6, 0.01), aux: battery(12.6, 0.01), w: wire(0.3), load: draws(5) },
        joins: ['bat:- > w:a', 'w:b > aux:+', 'bat:+ > load:+', 'load:- > aux:-'],
        conditions: [off],
      })
      expect(of(document)).toBeUndefined()
    })
    test('a wire between a battery and an alternator', () => {
      const document = wiring({
        parts: { bat: battery(12.6, 0.01), alt: ['alternator', { setPoint_V: 14.4, output_A: 60 }], w: wire(2) },
        joins: ['alt:+ > w:a', 'w:b > bat:+', 'alt:- > bat:-'],
        conditions: [off],
      })
      expect(of(document)).toBeUndefined()
    })
    test('a fuse of the link: only conductors are judged', () => {
      expect(of(link('fa w fb', { fa: fuse, w: wire(5), fb: fuse }), 'fa')).toBeUndefined()
    })
  })
})
