import { describe, expect, test } from 'vitest'
import type { Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, type Parts, wiring } from '../solve/wiring.ts'
import { judged } from './judged.ts'

const wire = (ratings: Ratings, parallel = 1): Parts[string] => ['conductor', { material: 'copper', ...ratings }, { length_m: 1, parallel }]
const area = (crossSection_mm2: number) => wire({ crossSection_mm2 })

// bat:+ > box; box > w > load. The wire enters the box at one end only.
const entering = (w: Parts[string], host: Parts[string], end = '1') =>
  wiring({
    parts: { bat: battery(12.6, 0.01), box: host, w, load: draws(5) },
    joins: ['bat:+ > box:' + (host[0] === 'connector' ? '1a' : 'in'), `box:${end} > w:a`, 'w:b > load:+', 'load:- > bat:-'],
    conditions: [off],
  })
const block = (ratings: Ratings): Parts[string] => ['block', ratings]
const of = (document: VehicleDocument, component = 'w') => judged(document, 'conductor-entry', component)
const between = { entryMin_mm2: 1.5, entryMax_mm2: 6 }

describe('conductor-entry', () => {
  // By hand: the value is the wire's own area; the bound that it comes nearest to is the limit. 4 of 6 is 67 %, 1.5 of 4 is 37.5 %.
  test.each([
    ['4 mm²', 4, 'clear', 6, 4 / 6],
    ['5.9 mm²: 98 % is no matter, there is no tight', 5.9, 'clear', 6, 5.9 / 6],
    ['6 mm²: the largest', 6, 'clear', 6, 1],
    ['6.01 mm²', 6.01, 'over', 6, 6.01 / 6],
    ['10 mm²', 10, 'over', 6, 10 / 6],
    // 2 of 6 is 33 %, 1.5 of 2 is 75 %: nearer the smallest.
    ['2 mm²', 2, 'clear', 1.5, 1.5 / 2],
    // √(1.5 · 6) = 3: as near to the one as to the other.
    ['3 mm²', 3, 'clear', 6, 3 / 6],
    ['1.5 mm²: the smallest', 1.5, 'clear', 1.5, 1],
    ['1.49 mm²', 1.49, 'over', 1.5, 1.5 / 1.49],
    ['0.5 mm²', 0.5, 'over', 1.5, 3],
  ] as const)('%s into 1.5 mm² to 6 mm²', (_, mm2, verdict, limit, used) => {
    const found = of(entering(area(mm2), block(between)))
    expect([found?.verdict, found?.value, found?.limit, found?.unit]).toEqual([verdict, mm2, limit, 'mm²'])
    expect(found?.used).toBeCloseTo(used, 9)
    expect([found?.tightAbove, found?.overAbove, found?.missing]).toEqual([null, 1, []])
    expect(found?.figures).toEqual({ 'cross-section, mm²': mm2, 'smallest that box takes, mm²': 1.5, 'largest, mm²': 6 })
  })

  test('what it says', () => {
    expect(of(entering(area(10), block(between)))?.says).toBe('w is 10 mm²; box takes 1.5 mm² to 6 mm².')
    expect(of(entering(area(10), block({ entryMax_mm2: 6 })))?.says).toBe('w is 10 mm²; box takes up to 6 mm².')
    expect(of(entering(area(1), block({ entryMin_mm2: 1.5 })))?.says).toBe('w is 1 mm²; box takes 1.5 mm² and more.')
    expect(of(entering(area(10), block(between)))?.remedy).toBe('Fit a terminal made for this cross-section, or step the size at a splice.')
  })

  test('one bound alone', () => {
    expect(of(entering(area(10), block({ entryMax_mm2: 6 })))).toMatchObject({ verdict: 'over', limit: 6 })
    expect(of(entering(area(1), block({ entryMax_mm2: 6 })))).toMatchObject({ verdict: 'clear', limit: 6 })
    expect(of(entering(area(1), block({ entryMin_mm2: 1.5 })))).toMatchObject({ verdict: 'over', limit: 1.5 })
    expect(of(entering(area(10), block({ entryMin_mm2: 1.5 })))).toMatchObject({ verdict: 'clear', limit: 1.5 })
  })

  // ASTM B258 (read): d = 0.127 mm · 92^((36 − n)/39). n = 10: 92^(26/39) = 20.3794, d = 2.58819 mm, A = π·d²/4 = 5.2612 mm²;
  // n = 8: 92^(28/39) = 25.6980, d = 3.26364 mm, A = 8.3656 mm².
  test.each([
    ['10', 5.2612, 'clear'],
    ['8', 8.3656, 'over'],
  ] as const)('%s AWG into a terminal for up to 6 mm²', (name, mm2, verdict) => {
    const found = of(entering(wire({ size: { system: 'AWG', name } }), block(between)))
    expect(found?.verdict).toBe(verdict)
    expect(found?.value).toBeCloseTo(mm2, 3)
  })

  test('of two side by side each enters by itself', () => {
    expect(of(entering(wire({ crossSection_mm2: 4 }, 2), block(between)))).toMatchObject({ verdict: 'clear', value: 4 })
  })

  test('a connector as well as a block', () => {
    expect(of(entering(area(10), ['connector', between], '1b'))).toMatchObject({ verdict: 'over', limit: 6 })
    expect(of(entering(area(4), ['connector', between], '1b'))?.verdict).toBe('clear')
  })

  test.each([
    ['the narrower one first', 2.5, 16],
    ['the narrower one last', 16, 2.5],
  ])('from one block to another: %s', (_, first, second) => {
    const document = wiring({
      parts: {
        bat: battery(12.6, 0.01),
        one: block({ entryMax_mm2: first }),
        two: block({ entryMax_mm2: second }),
        w: area(4),
        load: draws(5),
      },
      joins: ['bat:+ > one:in', 'one:1 > w:a', 'w:b > two:in', 'two:1 > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    const found = of(document)
    expect([found?.verdict, found?.limit]).toEqual(['over', 2.5])
    expect(found?.says).toContain(first === 2.5 ? 'one takes' : 'two takes')
  })

  test('its cross-section not known: unknown, and named', () => {
    const found = of(entering(wire({}), block(between)))
    expect([found?.verdict, found?.value, found?.missing, found?.evidence]).toEqual(['unknown', null, ['cross-section'], 'assumed'])
    expect(found?.says).toBe('w is of unknown cross-section; box takes 1.5 mm² to 6 mm².')
    expect(found?.figures).toMatchObject({ 'cross-section, mm²': null })
    expect(of(entering(wire({}), block({ entryMin_mm2: 1.5 })))?.verdict).toBe('unknown')
  })

  test('its cross-section not known between two: the first is named', () => {
    const document = wiring({
      parts: {
        bat: battery(12.6, 0.01),
        one: block({ entryMax_mm2: 2.5 }),
        two: block({ entryMin_mm2: 1.5 }),
        w: wire({}),
        load: draws(5),
      },
      joins: ['bat:+ > one:in', 'one:1 > w:a', 'w:b > two:in', 'two:1 > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    expect(of(document)?.says).toBe('w is of unknown cross-section; one takes up to 2.5 mm².')
  })

  test('the poorer grade of the two is the evidence, at either bound', () => {
    const graded = (mm2: number, w: 'measured' | 'datasheet' | 'assumed', box: 'marked' | 'datasheet') => {
      const document = entering(area(mm2), block(between))
      const evidence = (key: string) =>
        key === 'w' ? { crossSection_mm2: w } : key === 'box' ? { entryMin_mm2: box, entryMax_mm2: box } : undefined
      return of({
        ...document,
        parts: document.parts.map((part) => {
          const grades = evidence(part.key)
          return grades ? { ...part, evidence: grades } : part
        }),
      })?.evidence
    }
    for (const mm2 of [10, 0.5]) {
      expect(graded(mm2, 'datasheet', 'datasheet')).toBe('datasheet')
      expect(graded(mm2, 'datasheet', 'marked')).toBe('marked')
      expect(graded(mm2, 'measured', 'marked')).toBe('measured')
      expect(graded(mm2, 'assumed', 'marked')).toBe('assumed')
    }
  })

  describe('nothing to judge', () => {
    test('a block that states no range', () => expect(of(entering(area(4), block({})))).toBeUndefined())
    test('a wire between a battery and a load', () => {
      const document = wiring({
        parts: { bat: battery(12.6, 0.01), w: area(4), load: draws(5) },
        joins: ['bat:+ > w:a', 'w:b > load:+', 'load:- > bat:-'],
        conditions: [off],
      })
      expect(of(document)).toBeUndefined()
    })
    test('what no wire enters: a fuse on the block', () => {
      const document = wiring({
        parts: { bat: battery(12.6, 0.01), box: block(between), f: ['fuse', { rated_A: 10 }], load: draws(5) },
        joins: ['bat:+ > box:in', 'box:1 > f:in', 'f:out > load:+', 'load:- > bat:-'],
        conditions: [off],
      })
      expect(of(document, 'f')).toBeUndefined()
      expect(of(document, 'box')).toBeUndefined()
    })
  })
})
