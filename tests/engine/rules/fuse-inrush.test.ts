/** What a start puts through a fuse: energy below what melts it, else its opening window. By hand. Long because it is one list of circuits. */
import { describe, expect, test } from 'vitest'
import { MELTING_s } from '../../../server/engine/tables/fuse-windows.ts'
import { inrushDuration_s, inrushMultiple } from '../../../server/engine/tables/inrush-multiples.ts'
import type { Condition, Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, type Parts, wiring } from '../solve/wiring.ts'
import { vehicle } from '../vehicle-builder.ts'
import { judged } from './judged.ts'

const fuse = (form: string | null, rated_A: number | null): Parts[string] => [
  'fuse',
  { rated_V: 32, resistance_ohm: 0.001, ...(form === null ? {} : { form }), ...(rated_A === null ? {} : { rated_A }) },
]
/** battery → fuse → load, with no contact. */
const started = (device: Parts[string], ratings: Ratings, conditions: readonly Condition[] = [off]) =>
  wiring({
    parts: { bat: battery(12, 0.001), f: device, load: ['load', { behaviour: 'current', rated_V: 12, ...ratings }] },
    joins: ['bat:+ > f:in', 'f:out > load:+', 'load:- > bat:-'],
    conditions,
  })
const judge = (document: VehicleDocument, device = 'f') => judged(document, 'fuse-inrush', device)
const pulse = (inrush_A: number, inrush_s: number, current_A = 1): Ratings => ({ current_A, inrush_A, inrush_s })

// Multiples: lamp 10, motor 6 (switch maker's load guide, read); a coil's current only rises to V/R (memory); a heater has none (physics).
test('multiples and times by nature', () => {
  expect(['lamp', 'motor', 'inductive', 'resistive', 'electronic', null].map(inrushMultiple)).toEqual([10, 6, 1, 1, null, null])
  // Lamp 0.1 s, input capacitors some ms (memory).
  expect(['lamp', 'electronic', 'inductive', 'resistive', 'motor', null].map(inrushDuration_s)).toEqual([0.1, 0.005, 0, 0, null, null])
})

// Melting I²t read for C 40 A 3300, E 30 A 4100, F 25 A 1000 A²s (data sheets as transcribed).
test('melting I²t of the links read', () => {
  expect((MELTING_s.C as number) * 40 ** 2).toBeCloseTo(3300, 9)
  expect((MELTING_s.E as number) * 30 ** 2).toBeCloseTo(4100, 9)
  expect((MELTING_s.F as number) * 25 ** 2).toBeCloseTo(1000, 9)
})

describe('a pulse against what melts the link', () => {
  // A triangle of 100 A and 0.78 s holds 100²·0.78/3 = 2600 A²s; 80 % of 3300 are 2640, 0.792 s.
  test.each([
    ['C 40 A, 100 A for 0.78 s', 'C', 40, pulse(100, 0.78), 2600, 3300],
    ['C 40 A, 100 A for 0.792 s: 80 %', 'C', 40, pulse(100, 0.792), 2640, 3300],
    ['E 30 A, 60 A for 2.7 s', 'E', 30, pulse(60, 2.7), 3240, 4100],
    ['F 25 A, 100 A for 0.2 s', 'F', 25, pulse(100, 0.2), 2000 / 3, 1000],
    ['C 20 A: 3300·(20/40)²', 'C', 20, pulse(60, 0.4), 480, 825],
  ])('%s: clear', (_, form, rated_A, ratings, value, limit) => {
    const found = judge(started(fuse(form, rated_A), ratings))
    expect(found).toMatchObject({ verdict: 'clear', unit: 'A²s', missing: [] })
    expect(found?.value).toBeCloseTo(value, 6)
    expect(found?.limit).toBeCloseTo(limit, 6)
    expect(found?.condition).toBe('o')
  })
  test('the figures by hand', () => {
    const found = judge(started(fuse('C', 40), pulse(100, 0.78)))
    expect(found?.names).toEqual([
      'inrush of load',
      'what else flows meanwhile',
      'together',
      'rating',
      'form',
      'time',
      'melting I²t of such a link',
    ])
    expect(found?.units).toEqual(['A', 'A', 'A', 'A', '', 's', 'A²s'])
    expect(found?.figure('inrush of load')).toBe(100)
    expect(found?.number('what else flows meanwhile')).toBeCloseTo(0, 9)
    expect(found?.number('together')).toBeCloseTo(100, 9)
    expect(found?.figure('rating')).toBe(40)
    expect(found?.figure('form')).toBe('C')
    expect(found?.figure('time')).toBe(0.78)
    expect(found?.number('melting I²t of such a link')).toBeCloseTo(3300, 9)
    expect(found?.value).toBeCloseTo((found?.number('together') ?? 0) ** 2 * (found?.number('time') ?? 0) * (1 / 3), 6)
    expect(found?.says).toBe('The start of load puts into f 2600 A²s of its 3300 A²s melting I²t (off).')
  })
  // A lamp of 5 A: 50 A for 0.1 s, 2500·0.1/3 = 83.3 A²s; a 10 A link of type C melts with 206.25.
  test('a lamp by its nature', () => {
    const found = judge(started(fuse('C', 10), { current_A: 5, nature: 'lamp' }))
    expect(found).toMatchObject({ verdict: 'clear' })
    expect(found?.number('inrush of load')).toBeCloseTo(50, 9)
    expect(found?.value).toBeCloseTo(250 / 3, 6)
    expect(found?.limit).toBeCloseTo(206.25, 6)
  })
})

describe('past 80 % of it, the window at the next listed multiple', () => {
  // C 40 A at 100 A, 250 %: at 350 % 0.08 to 0.5 s (read).
  test('0.793 s: beyond 0.5 s', () => {
    const found = judge(started(fuse('C', 40), pulse(100, 0.793)))
    expect(found).toMatchObject({ verdict: 'over', value: 0.793, limit: 0.5, unit: 's' })
    expect(found?.says).toBe('At the start of load, f sees inrush for 0.79 s of its 0.5 s longest opening time (off).')
  })
  // At 80 A, 200 %: 80²·1.24/3 = 2645 A²s; 0.15 to 5 s.
  test('inside it: tight', () => {
    const found = judge(started(fuse('C', 40), pulse(80, 1.24)))
    expect(found).toMatchObject({ verdict: 'tight', value: 1.24, limit: 5, tightAbove: 0.03 })
    expect(judge(started(fuse('C', 40), pulse(80, 5)))).toMatchObject({ verdict: 'tight', value: 5 })
    expect(judge(started(fuse('C', 40), pulse(80, 5.01)))).toMatchObject({ verdict: 'over', value: 5.01 })
  })
})

describe('a cartridge has a window only (memory): at 200 % 4 to 60 s, at 350 % 0.2 to 7 s', () => {
  test.each([
    [80, 4, 'clear', 60],
    [80, 4.01, 'tight', 60],
    [80, 60, 'tight', 60],
    [80, 60.1, 'over', 60],
    [80.1, 0.2, 'clear', 7],
    [80.1, 0.21, 'tight', 7],
    [80.1, 7.01, 'over', 7],
    [54, 61, 'tight', 1800],
    [54, 60, 'clear', 1800],
    [41, 59, 'clear', 1800],
    [240, 0.04, 'clear', 1],
    [240, 1.01, 'over', 1],
  ])('40 A, %f A for %f s: %s', (inrush_A, inrush_s, verdict, limit) => {
    const found = judge(started(fuse('A1', 40), pulse(inrush_A, inrush_s)))
    expect(found).toMatchObject({ verdict, value: inrush_s, limit, unit: 's', missing: [] })
    expect(found?.figure('melting I²t of such a link')).toBeNull()
  })
  test('above 600 % nothing is listed, and no melting I²t is known', () => {
    expect(judge(started(fuse('A1', 40), pulse(240.1, 0.01)))).toMatchObject({ verdict: 'unknown', missing: ['melting I²t of its form'] })
  })
})

describe('above 600 %', () => {
  // C 10 A melts with 206.25 A²s; 90 A: 90²·t/3 = 2700·t.
  test.each([
    [0.06, 'clear', 162],
    [0.07, 'tight', 189],
    [0.076, 'tight', 205.2],
    [0.077, 'over', 207.9],
  ])('90 A through a type C of 10 A for %f s: %s', (inrush_s, verdict, value) => {
    const found = judge(started(fuse('C', 10), pulse(90, inrush_s)))
    expect(found).toMatchObject({ verdict, unit: 'A²s', missing: [] })
    expect(found?.value).toBeCloseTo(value, 6)
    expect(found?.limit).toBeCloseTo(206.25, 6)
  })
})

describe('glass (memory): holds 4 h at 110 %, at 135 % only a longest time, nothing above 200 %', () => {
  test('108 % is held by its form', () => {
    const found = judge(started(fuse('glass', 10), pulse(10.8, 100)))
    expect(found).toMatchObject({ verdict: 'clear', value: null })
    expect(found?.says).toBe('f holds the start of load by its form.')
  })
  test('at 130 % the shortest time is missing; past the longest it is over all the same', () => {
    expect(judge(started(fuse('glass', 10), pulse(13, 1)))).toMatchObject({
      verdict: 'unknown',
      value: 1,
      limit: 3600,
      missing: ['the shortest time of its form at 135 %'],
      tightAbove: null,
    })
    expect(judge(started(fuse('glass', 10), pulse(20, 10)))).toMatchObject({ verdict: 'unknown', limit: 10 })
    expect(judge(started(fuse('glass', 10), pulse(20, 11)))).toMatchObject({ verdict: 'over', value: 11, limit: 10 })
  })
  test('above 200 %', () => {
    expect(judge(started(fuse('glass', 10), pulse(21, 0.01)))).toMatchObject({ verdict: 'unknown', missing: ['melting I²t of its form'] })
  })
})

describe('within its rating nothing has to be known', () => {
  test('10 A of 10 A, for as long as it likes', () => {
    const found = judge(started(fuse(null, 10), pulse(10, 900)))
    expect(found).toMatchObject({ verdict: 'clear', value: null, missing: [] })
    expect(found?.says).toBe('f carries the start of load within its rating.')
  })
  test('10.1 A: the form is needed', () => {
    const found = judge(started(fuse(null, 10), pulse(10.1, 1)))
    expect(found).toMatchObject({ verdict: 'unknown', missing: ['opening times of its form'] })
    expect(found?.figure('form')).toBeNull()
    expect(judge(started(fuse('class-T', 10), pulse(10.1, 1)))).toMatchObject({ missing: ['opening times of its form'] })
  })
  test('electronics of 0.25 A draw at most 40 times as much', () => {
    expect(judge(started(fuse(null, 10), { current_A: 0.25, nature: 'electronic' }))).toMatchObject({ verdict: 'clear' })
    expect(judge(started(fuse(null, 10), { current_A: 0.26, nature: 'electronic' }))).toMatchObject({
      verdict: 'unknown',
      missing: ['inrush of load'],
    })
  })
  test('a motor of 1.6 A is within 10 A, one of 1.7 A for how long is not known', () => {
    expect(judge(started(fuse('C', 10), { current_A: 1.6, nature: 'motor' }))).toMatchObject({ verdict: 'clear', value: null })
    expect(judge(started(fuse('C', 10), { current_A: 1.7, nature: 'motor' }))).toMatchObject({
      verdict: 'unknown',
      missing: ['how long the inrush of load lasts'],
    })
  })
  test('a heater, a coil and a starter add nothing to what they draw', () => {
    for (const nature of ['resistive', 'inductive'])
      expect(judge(started(fuse(null, 10), { current_A: 10, nature }))).toMatchObject({ verdict: 'clear' })
    const cranking: Condition = { key: 'k', name: 'cranking', engine: 'cranking' }
    const starter = judge(started(fuse(null, 300), { current_A: 300, starter: true }, [cranking]))
    expect(starter).toMatchObject({ verdict: 'clear' })
    expect(starter?.number('together')).toBeCloseTo(300, 9)
  })
})

describe('what is not known', () => {
  test('the rating', () => {
    const found = judge(started(fuse('C', null), pulse(10, 1)))
    expect(found).toMatchObject({ verdict: 'unknown', missing: ['rated current'] })
    expect(found?.figure('melting I²t of such a link')).toBeNull()
    expect(found?.says).toBe('At the start of load, f sees inrush for an unknown time: rated current not known.')
  })
  test('neither nature nor inrush: both inrush and its time', () => {
    expect(judge(started(fuse('C', 10), { current_A: 5 }))).toMatchObject({
      verdict: 'unknown',
      missing: ['inrush of load', 'how long the inrush of load lasts'],
    })
  })
  test('electronics past the rating: 40 times for 5 ms, where that cannot melt it', () => {
    // 1 A: at most 40 A, 40²·0.005/3 = 2.667 A²s of 206.25.
    const small = judge(started(fuse('C', 10), { current_A: 1, nature: 'electronic' }))
    expect(small).toMatchObject({ verdict: 'clear' })
    expect(small?.value).toBeCloseTo(8 / 3, 9)
    // With 1 s of it, stated: 533 A²s, so it has to be known.
    expect(judge(started(fuse('C', 10), { current_A: 1, nature: 'electronic', inrush_s: 1 }))).toMatchObject({
      verdict: 'unknown',
      missing: ['inrush of load'],
    })
    expect(judge(started(fuse('A1', 10), { current_A: 1, nature: 'electronic' }))).toMatchObject({ missing: ['inrush of load'] })
  })
  test('the current itself', () => {
    expect(judge(started(fuse('C', 10), {}))).toMatchObject({ verdict: 'unknown', missing: ['inrush of load', 'current of load'] })
    expect(judge(started(fuse('C', 10), { nature: 'lamp' }))?.verdict).toBe('unknown')
  })
  test('how long a stated inrush lasts', () => {
    expect(judge(started(fuse('C', 10), { current_A: 5, inrush_A: 30 }))).toMatchObject({
      verdict: 'unknown',
      missing: ['how long the inrush of load lasts'],
    })
  })
  test('a stated inrush below what it draws counts as what it draws', () => {
    expect(judge(started(fuse('C', 10), { current_A: 5, inrush_A: 3 }))?.number('together')).toBeCloseTo(5, 9)
  })
})

describe('what starts together, and what runs on', () => {
  // Two loads of 2 A and one of 3 A behind one fuse of 10 A: `a` and `b` on one switch, `c` on its own.
  const shared = (a: Ratings, b: Ratings, c: Ratings, conditions: readonly Condition[] = [off]) =>
    wiring({
      parts: {
        bat: battery(12, 0.001),
        f: fuse('A1', 10),
        s: ['switch', { rated_A: 20, rated_V: 16 }],
        t: ['switch', { rated_A: 20, rated_V: 16 }],
        a: draws(2, a),
        b: draws(2, b),
        c: draws(3, c),
      },
      joins: [
        'bat:+ > f:in',
        'f:out > s:in',
        'f:out > t:in',
        's:out > a:+',
        's:out > b:+',
        't:out > c:+',
        'a:- > bat:-',
        'b:- > bat:-',
        'c:- > bat:-',
      ],
      conditions,
    })
  const still: Ratings = { nature: 'resistive' }
  test('on one contact they add; the third runs meanwhile', () => {
    // 9 + 8 + 3 = 20 A, 200 % of 10 A: 4 to 60 s; the longer of the two times counts.
    const found = judge(shared({ inrush_A: 9, inrush_s: 5 }, { inrush_A: 8, inrush_s: 1 }, still))
    expect(found).toMatchObject({ verdict: 'tight', value: 5, limit: 60 })
    expect(found?.number('what else flows meanwhile')).toBeCloseTo(3, 9)
    expect(found?.number('together')).toBeCloseTo(20, 9)
    expect(found?.figure('time')).toBe(5)
    expect(found?.figure('inrush of a')).toBe(9)
    expect(found?.figure('inrush of b')).toBe(8)
    expect(found?.says).toContain('At the start of a and b, f')
  })
  test('one of them has no inrush: its time does not count', () => {
    // 9 + 2 + 3 = 14 A: 350 % is far; at 200 % 4 to 60 s.
    const found = judge(shared({ inrush_A: 9, inrush_s: 5 }, { nature: 'resistive', inrush_s: 50 }, still))
    expect(found).toMatchObject({ verdict: 'tight', value: 5, limit: 60 })
    expect(found?.number('together')).toBeCloseTo(14, 9)
  })
  test('the third starts while the first two run', () => {
    // 16 + 4 = 20 A.
    const found = judge(shared(still, still, { inrush_A: 16, inrush_s: 61 }))
    expect(found).toMatchObject({ verdict: 'over', value: 61, limit: 60 })
    expect(found?.number('what else flows meanwhile')).toBeCloseTo(4, 9)
    expect(found?.number('together')).toBeCloseTo(20, 9)
    expect(found?.says).toContain('At the start of c, f')
  })
  test('one of them is not known, or not for how long: that one is named', () => {
    // 80 A at most of electronics of 2 A.
    expect(judge(shared({ nature: 'electronic', inrush_s: 5 }, { inrush_A: 9, inrush_s: 5 }, still))).toMatchObject({
      verdict: 'unknown',
      missing: ['inrush of a'],
    })
    expect(judge(shared({ inrush_A: 9 }, { inrush_A: 8, inrush_s: 1 }, still))).toMatchObject({
      verdict: 'unknown',
      missing: ['how long the inrush of a lasts'],
    })
  })
  test('of two starts alike the first is told', () => {
    const document = wiring({
      parts: { bat: battery(12, 0.001), f: fuse('A1', 10), a: draws(2, pulse(18, 5, 2)), b: draws(2, pulse(18, 5, 2)) },
      joins: ['bat:+ > f:in', 'f:out > a:+', 'f:out > b:+', 'a:- > bat:-', 'b:- > bat:-'],
      conditions: [off],
    })
    expect(judge(document)?.says).toContain('At the start of a, f')
  })
  test('loads with no contact start one by one', () => {
    const document = wiring({
      parts: { bat: battery(12, 0.001), f: fuse('A1', 10), a: draws(2, pulse(9, 5, 2)), b: draws(2, pulse(8, 1, 2)) },
      joins: ['bat:+ > f:in', 'f:out > a:+', 'f:out > b:+', 'a:- > bat:-', 'b:- > bat:-'],
      conditions: [off],
    })
    // 9 + 2 = 11 A, 110 %: at 135 % 60 to 1800 s.
    const found = judge(document)
    expect(found).toMatchObject({ verdict: 'clear', value: 5, limit: 1800 })
    expect(found?.number('together')).toBeCloseTo(11, 9)
  })
  test('only what is on counts, in each condition', () => {
    const lit: Condition = { key: 'l', name: 'lit', engine: 'off', on: ['c'] }
    const none: Condition = { key: 'n', name: 'none', engine: 'off', on: [] }
    const document = (conditions: readonly Condition[]) =>
      shared({ inrush_A: 900, inrush_s: 5 }, still, { inrush_A: 16, inrush_s: 1 }, conditions)
    expect(judge(document([none]))).toBeUndefined()
    const found = judge(document([none, lit]))
    // 16 A alone, 160 %: 4 to 60 s.
    expect(found).toMatchObject({ verdict: 'clear', value: 1, limit: 60, condition: 'l' })
    expect(found?.number('together')).toBeCloseTo(16, 9)
  })
  test('of several starts the worst is told: over, tight, not known, clear', () => {
    const clear: Ratings = { inrush_A: 9, inrush_s: 1 }
    const unknown: Ratings = { inrush_A: 50 }
    const tight: Ratings = { inrush_A: 9, inrush_s: 5 }
    // With the rest 9 + 2 + 3 = 14 A; the third 13 + 4 = 17 A: at 200 % 4 to 60 s.
    const told = (a: Ratings, c: Ratings) => judge(shared(a, still, c))
    expect(told(clear, { inrush_A: 13, inrush_s: 61 })).toMatchObject({ verdict: 'over', value: 61 })
    expect(told({ inrush_A: 9, inrush_s: 61 }, tight)).toMatchObject({ verdict: 'over', value: 61 })
    expect(told(unknown, { inrush_A: 13, inrush_s: 5 })).toMatchObject({ verdict: 'tight', value: 5 })
    expect(told(tight, unknown)).toMatchObject({ verdict: 'tight', value: 5 })
    expect(told(clear, unknown)).toMatchObject({ verdict: 'unknown', missing: ['how long the inrush of c lasts'] })
    expect(told(unknown, clear)).toMatchObject({ verdict: 'unknown', missing: ['how long the inrush of a lasts'] })
    expect(told(still, clear)).toMatchObject({ verdict: 'clear', value: 1 })
  })
  test('a clear start near what melts the link does not hide one that is not known, nor one inside the window', () => {
    const two = (a: Ratings, b: Ratings) =>
      judge(
        wiring({
          parts: { bat: battery(12, 0.001), f: fuse('C', 10), a: draws(1, a), b: draws(1, b) },
          joins: ['bat:+ > f:in', 'f:out > a:+', 'f:out > b:+', 'a:- > bat:-', 'b:- > bat:-'],
          conditions: [off],
        }),
      )
    // 29 + 1 = 30 A: 30²·0.52/3 = 156 A²s of 206.25, 76 %. 19 + 1 = 20 A for 1.3 s: 173 A²s; at 200 % 0.15 to 5 s.
    const near: Ratings = { inrush_A: 29, inrush_s: 0.52 }
    expect(two(near, near)).toMatchObject({ verdict: 'clear' })
    expect(two(near, { inrush_A: 29 })).toMatchObject({ verdict: 'unknown' })
    // 89 + 1 = 90 A for 0.07 s: 189 A²s, 92 %.
    expect(two({ inrush_A: 89, inrush_s: 0.07 }, { inrush_A: 29 })).toMatchObject({ verdict: 'tight', unit: 'A²s' })
    expect(two(near, { inrush_A: 19, inrush_s: 1.3 })).toMatchObject({ verdict: 'tight', value: 1.3, limit: 5 })
  })
})

test('two fuses side by side take half of the inrush each', () => {
  const document = wiring({
    parts: { bat: battery(12, 0.001), f: fuse('A1', 10), g: fuse('A1', 10), a: draws(0.8, { inrush_A: 40, inrush_s: 5 }) },
    joins: ['bat:+ > f:in', 'bat:+ > g:in', 'f:out > a:+', 'g:out > a:+', 'a:- > bat:-'],
    conditions: [off],
  })
  const found = judge(document)
  expect(found?.number('together')).toBeCloseTo(20, 6)
  expect(found?.number('what else flows meanwhile')).toBeCloseTo(0, 6)
  expect(found).toMatchObject({ verdict: 'tight', value: 5, limit: 60 })
})

test('what charges a battery through the fuse flows on during a start', () => {
  const document = wiring({
    parts: {
      bat: battery(12.6, 0.01),
      alt: ['alternator', { setPoint_V: 14.4, output_A: 90 }],
      f: fuse('A1', 20),
      load: draws(5, { inrush_A: 20, inrush_s: 5 }),
    },
    joins: ['alt:+ > f:in', 'f:out > bat:+', 'alt:- > bat:-', 'bat:+ > load:+', 'load:- > bat:-'],
    conditions: [{ key: 'r', name: 'driving', engine: 'running', charge_A: 20 }],
  })
  // 25 A before it, 20 A of it charge: 40 A together, 200 % of 20 A.
  const found = judge(document)
  expect(found?.number('what else flows meanwhile')).toBeCloseTo(20, 6)
  expect(found?.number('together')).toBeCloseTo(40, 6)
})

test('a load that draws nothing once it has started', () => {
  expect(judge(started(fuse('A1', 10), pulse(20, 5, 0)))?.number('together')).toBeCloseTo(20, 9)
})

test('a load of unknown current beside it: an over stands, all else is unknown', () => {
  const document = (inrush_s: number) =>
    wiring({
      parts: {
        bat: battery(12, 0.001),
        f: fuse('A1', 10),
        a: draws(4, { inrush_A: 20, inrush_s }),
        b: ['load', { rated_V: 12, nature: 'resistive' }],
      },
      joins: ['bat:+ > f:in', 'f:out > a:+', 'f:out > b:+', 'a:- > bat:-', 'b:- > bat:-'],
      conditions: [off],
    })
  expect(judge(document(1))?.verdict).toBe('unknown')
  expect(judge(document(1))?.missing).toContain('current of b')
  expect(judge(document(61))).toMatchObject({ verdict: 'over', value: 61 })
})

test('a relay’s coil draws what its resistance lets it, whatever its contact makes', () => {
  // 12 V / 80 Ω = 0.15 A through the 1 A fuse of the coil; the contact of 240 A carries 30 A from elsewhere.
  const document = wiring({
    parts: {
      bat: battery(12, 0.001),
      f: fuse('A1', 1),
      main: fuse('A1', 60),
      r: ['relay', { make_A: 70, inrush_A: 240, rated_V: 16, coil_ohm: 80 }],
      load: draws(30, { nature: 'resistive' }),
    },
    joins: ['bat:+ > f:in', 'f:out > r:86', 'r:85 > bat:-', 'bat:+ > main:in', 'main:out > r:30', 'r:87 > load:+', 'load:- > bat:-'],
    conditions: [off],
  })
  const found = judge(document)
  expect(found).toMatchObject({ verdict: 'clear', value: null })
  expect(found?.number('inrush of r')).toBeCloseTo((12 - 0.001 * 30.15) / 80 - 0, 4)
  expect(found?.number('together')).toBeLessThan(0.151)
  expect(judge(document, 'main')?.number('together')).toBeCloseTo(30, 6)
  // At rest it draws nothing: by what is named as on, and where its load is a starter that does not turn.
  const idle = document.parts.map((part) => (part.key === 'load' ? { ...part, ratings: { ...part.ratings, starter: true } } : part))
  expect(judge({ ...document, parts: idle })).toBeUndefined()
  expect(judge({ ...document, conditions: [{ key: 'n', name: 'none', engine: 'off', on: [] }] })).toBeUndefined()
})

test('a breaker has no link to age: not judged', () => {
  const document = wiring({
    parts: { bat: battery(12, 0.001), f: ['breaker', { rated_A: 10, rated_V: 32 }], a: draws(4, { inrush_A: 20, inrush_s: 5 }) },
    joins: ['bat:+ > f:in', 'f:out > a:+', 'a:- > bat:-'],
    conditions: [off],
  })
  expect(judge(document)).toBeUndefined()
})

test('evidence: what is scaled from another link is typical; within its rating only rating and inrush count', () => {
  const rated = { rated_A: 20, rated_V: 32, form: 'C' }
  const graded = (load: Ratings) =>
    judged(vehicle({ fuse: rated, load: { behaviour: 'current', rated_V: 12, ...load } }), 'fuse-inrush', 'f1')
  expect(graded({ current_A: 5, inrush_A: 20, inrush_s: 1 })).toMatchObject({ verdict: 'clear', evidence: 'datasheet' })
  expect(graded({ current_A: 5, inrush_A: 21, inrush_s: 0.1 })).toMatchObject({ verdict: 'clear', unit: 'A²s', evidence: 'typical' })
  expect(graded({ current_A: 5, nature: 'resistive' })).toMatchObject({ verdict: 'clear', evidence: 'typical' })
  const unrated = vehicle({ fuse: { rated_V: 32 }, load: { behaviour: 'current', rated_V: 12, current_A: 5, inrush_A: 20, inrush_s: 1 } })
  expect(judged(unrated, 'fuse-inrush', 'f1')).toMatchObject({ verdict: 'unknown', evidence: 'assumed' })
})
