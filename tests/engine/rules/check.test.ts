/** What check.ts decides by itself: the worst condition, the thresholds, the order, the doubt about assumed figures. Long because it is one list of rows. */
import { describe, expect, test } from 'vitest'
import { circuitOf } from '../../../server/engine/circuit-of.ts'
import type { Finding } from '../../../server/engine/report.ts'
import { checkVehicle, findingAt } from '../../../server/engine/rules/check.ts'
import type { Component, Grade, Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, ohms, type Parts, wiring } from '../solve/wiring.ts'

const found = (document: VehicleDocument, rule: string, component: string): Finding | undefined =>
  checkVehicle(document).findings.find((one) => one.rule === rule && one.component === component)

/** The first row's figure is read by all: a switch of 10 A, for which a resistive load counts once (FAA AC 43.13-1B Table 11-4, read). */
const SWITCH: Ratings = { rated_A: 10, rated_V: 16 }
const resistive = (current_A: number): Parts[string] => draws(current_A, { nature: 'resistive' })
/** Condition n has the nth loads on. A load is its current; `u` is a load of unknown current. */
const worst = (...conditions: readonly (readonly (number | 'u')[])[]) => {
  const loads = [...new Set(conditions.flat())]
  const key = (load: number | 'u') => `l${loads.indexOf(load)}`
  const document = wiring({
    parts: {
      bat: battery(12.6, 0.001),
      s: ['switch', SWITCH],
      ...Object.fromEntries(
        loads.map((load) => [key(load), load === 'u' ? (['load', { rated_V: 12, nature: 'resistive' }] as const) : resistive(load)]),
      ),
    },
    joins: ['bat:+ > s:in', ...loads.flatMap((load) => [`s:out > ${key(load)}:+`, `${key(load)}:- > bat:-`])],
    conditions: conditions.map((on, n) => ({ key: `${n + 1}`, name: `${n + 1}`, engine: 'off', on: on.map(key) })),
  })
  const finding = found(document, 'contact-load', 's')
  return `${finding?.verdict} in ${finding?.condition}`
}

// Of 10 A: 5 A is clear, 9 A tight, 11 A over; with a load of unknown current anything not over is unknown.
describe('of several conditions the worst is told', () => {
  test.each<[string, readonly (readonly (number | 'u')[])[], string]>([
    ['clear, then tight', [[5], [9]], 'tight in 2'],
    ['tight, then clear', [[9], [5]], 'tight in 1'],
    ['tight, then over', [[9], [11]], 'over in 2'],
    ['over, then tight', [[11], [9]], 'over in 1'],
    ['clear, then unknown', [[5], ['u']], 'unknown in 2'],
    ['unknown, then clear', [['u'], [5]], 'unknown in 1'],
    ['unknown, then tight', [['u'], [9]], 'tight in 2'],
    ['tight, then unknown', [[9], ['u']], 'tight in 1'],
    ['tight, then unknown at a higher share', [[9], [9.5, 'u']], 'tight in 1'],
    ['clear twice, the second more', [[5], [6]], 'clear in 2'],
    ['clear twice, the first more', [[6], [5]], 'clear in 1'],
    ['clear twice, alike: the first', [[5], [5]], 'clear in 1'],
    ['clear twice, alike but for less than one part in 10⁹: the first', [[5], [5.000000002]], 'clear in 1'],
    ['nothing flows in either: the first', [[0], [0]], 'clear in 1'],
  ])('%s', (_, conditions, says) => {
    expect(worst(...conditions)).toBe(says)
  })
})

// The converter can give 2 A; a current of 3 A drawn from it has no working point. The dark load's current is not known.
const starved = (conditions: readonly (readonly string[])[], fuse: Ratings = { rated_A: 20, rated_V: 32 }) =>
  wiring({
    parts: {
      bat: battery(12, 0.01),
      f: ['fuse', fuse, { zone: 'z' }],
      dc: ['converter', { output_V: 5, output_A: 2, efficiency: 0.9 }],
      big: draws(3, { minimum_V: 4 }),
      dark: ['load', { rated_V: 12 }],
    },
    joins: ['bat:+ > f:in', 'f:out > dc:in', 'dc:- > bat:-', 'dc:out > big:+', 'big:- > bat:-', 'f:out > dark:+', 'dark:- > bat:-'],
    conditions: conditions.map((on, n) => ({ key: `${n + 1}`, name: `${n + 1}`, engine: 'off', on })),
    ambient_degC: 25,
  })

describe('a condition with no working point', () => {
  test('what needs one is unknown, and that is what is missing', () => {
    const finding = found(starved([['big']]), 'fuse-load', 'f')
    expect([finding?.verdict, finding?.value, finding?.used]).toEqual(['unknown', null, null])
    expect(finding?.missing).toEqual(['a working point in this condition'])
    expect(finding?.remedy).toBe('Find out: a working point in this condition.')
  })
  test('what needs none is judged all the same: 16 V on a fuse for 32 V', () => {
    expect(found(starved([['big']]), 'rated-voltage', 'f')).toMatchObject({ verdict: 'clear', missing: [], used: 0.5 })
  })
  test('one with a figure, be it none at all, is told before it', () => {
    expect(found(starved([['big'], ['dark']]), 'fuse-load', 'f')).toMatchObject({ condition: '2', used: 0, missing: ['current of dark'] })
  })
  test('of two alike the first is told', () => {
    expect(found(starved([['big'], ['big']]), 'fuse-load', 'f')).toMatchObject({ condition: '1', used: null })
  })
  test('a load that is not fed has no voltage, though the condition has a working point', () => {
    const document = wiring({
      parts: { bat: battery(12, 0.01), s: ['switch', SWITCH], load: draws(5, { minimum_V: 9 }) },
      joins: ['bat:+ > s:in', 's:out > load:+', 'load:- > bat:-'],
      conditions: [{ key: 'o', name: 'o', engine: 'off', open: ['s'] }],
    })
    expect(found(document, 'load-voltage', 'load')?.missing).toEqual(['a feed in this condition'])
  })
})

// Current through a switch of 10 A, resistive: 10 A is at the limit.
const switched = (current_A: number, more: { readonly grade?: Grade; readonly s?: Ratings; readonly unfinished?: string } = {}) => {
  const mark: Partial<Component> = more.unfinished === undefined ? {} : { unfinished: more.unfinished }
  const document = wiring({
    parts: { bat: battery(12.6, 0.001), s: ['switch', more.s ?? SWITCH, mark], w: ohms(0.001, mark), load: resistive(current_A) },
    joins: ['bat:+ > s:in', 's:out > w:a', 'w:b > load:+', 'load:- > bat:-'],
    conditions: [{ key: 'o', name: 'o', engine: 'off' }],
  })
  const evidence = { rated_A: more.grade ?? ('marked' as const), rated_V: 'marked' as const }
  return { ...document, parts: document.parts.map((part) => (part.key === 's' ? { ...part, evidence } : part)) }
}

describe('what a finding carries', () => {
  test('over: share, thresholds, the rule’s remedy; a load of unknown current changes nothing', () => {
    expect(found(switched(12.5), 'contact-load', 's')).toMatchObject({
      verdict: 'over',
      limit: 10,
      unit: 'A',
      tightAbove: 0.8,
      overAbove: 1,
      missing: [],
      evidence: 'marked',
      remedy: 'Fit a relay or switch of a higher rating, or give one of the loads a relay of its own.',
    })
    expect(found(switched(12.5), 'contact-load', 's')?.used).toBeCloseTo(1.25, 9) // 12.5/10
    const more = wiring({
      parts: { bat: battery(12.6, 0.001), s: ['switch', SWITCH], load: resistive(12.5), dark: ['load', { rated_V: 12 }] },
      joins: ['bat:+ > s:in', 's:out > load:+', 'load:- > bat:-', 's:out > dark:+', 'dark:- > bat:-'],
    })
    expect(found(more, 'contact-load', 's')).toMatchObject({ verdict: 'over', missing: [] })
  })
  test('a bundle that is not recorded counts as none, and shows as assumed beside figures that are all known', () => {
    const known = (bundle?: number) => {
      const document = wiring({
        parts: {
          bat: battery(12.6, 0.001),
          w: [
            'conductor',
            { material: 'copper', crossSection_mm2: 4, insulation_degC: 105 },
            { length_m: 1, zone: 'z', ...(bundle === undefined ? {} : { bundle }) },
          ],
          load: resistive(5),
        },
        joins: ['bat:+ > w:a', 'w:b > load:+', 'load:- > bat:-'],
        ambient_degC: 30,
      })
      const evidence = { crossSection_mm2: 'datasheet', insulation_degC: 'datasheet', material: 'datasheet' } as const
      return {
        ...document,
        zones: document.zones?.map((zone) => ({ ...zone, evidence: { ambient_degC: 'measured' as const } })) ?? [],
        parts: document.parts.map((part) => (part.key === 'w' ? { ...part, evidence } : part)),
      }
    }
    expect(found(known(1), 'conductor-ampacity', 'w')?.evidence).toBe('measured')
    expect(found(known(), 'conductor-ampacity', 'w')?.evidence).toBe('assumed')
  })
  test('one rule asked of one component: its finding, or nothing where it has nothing to judge or there is no such rule', () => {
    const circuit = circuitOf(switched(12.5))
    expect(findingAt({ circuit, rule: 'contact-load', component: 's' })).toEqual(found(switched(12.5), 'contact-load', 's'))
    expect(findingAt({ circuit, rule: 'contact-inrush', component: 's' })).toBeNull()
    expect(findingAt({ circuit, rule: 'contact-load', component: 'w' })).toBeNull()
    expect(findingAt({ circuit, rule: 'no-such-rule', component: 's' })).toBeNull()
  })
  test('clear: nothing to do', () => {
    expect(found(switched(5), 'contact-load', 's')).toMatchObject({ verdict: 'clear', remedy: '', missing: [] })
  })
  test('unknown: what to find out', () => {
    const finding = found(switched(5, { s: { rated_V: 16 } }), 'contact-load', 's')
    expect(finding?.says).toBe('s carries 5 A; not known: rated current (o).')
    expect(finding).toMatchObject({
      verdict: 'unknown',
      limit: null,
      used: null,
      missing: ['rated current'],
      remedy: 'Find out: rated current.',
    })
  })
  test('its sources, one line each, the same on every component', () => {
    const findings = checkVehicle(switched(5)).findings.filter((one) => one.rule === 'rated-voltage' || one.rule === 'return-path')
    expect(findings.map((one) => one.sources)).toEqual([
      ['ISO 8820-3, -5, -6 scope clauses, 32 and 58 V classes (read)'],
      ['33 CFR 183.455(c), the feed’s limit, taken for the return (read)'],
    ])
    const two = wiring({
      parts: { bat: battery(12.6, 0.001), s: ['switch', SWITCH], t: ['switch', SWITCH], load: resistive(5) },
      joins: ['bat:+ > s:in', 's:out > t:in', 't:out > load:+', 'load:- > bat:-'],
    })
    expect(found(two, 'rated-voltage', 't')?.sources).toEqual(['ISO 8820-3, -5, -6 scope clauses, 32 and 58 V classes (read)'])
  })
  test('an unfinished change makes unknown what would be clear, said once; what is over stays over', () => {
    const near = found(switched(5, { unfinished: 'not entered yet' }), 'contact-load', 's')
    expect([near?.verdict, near?.missing]).toEqual(['unknown', ['not entered yet']])
    const over = found(switched(11, { unfinished: 'not entered yet' }), 'contact-load', 's')
    expect([over?.verdict, over?.missing]).toEqual(['over', []])
  })
})

describe('limits of nothing, and very small ones', () => {
  // 0.4 A of 0.5 A is 80 %: the limit is small, not none.
  test('0.4 A of 0.5 A', () =>
    expect(found(switched(0.4, { s: { rated_A: 0.5, rated_V: 16 } }), 'contact-load', 's')?.verdict).toBe('clear'))
  // At 105 °C a conductor of 105 °C insulation may carry nothing (33 CFR 183.425, NEC 310.15(B)(2), read): any current passes that.
  const hot = (current_A: number) =>
    wiring({
      parts: {
        bat: battery(12.6, 0.001),
        w: ['conductor', { material: 'copper', crossSection_mm2: 4, insulation_degC: 105 }, { length_m: 1, zone: 'z' }],
        load: draws(current_A),
      },
      joins: ['bat:+ > w:a', 'w:b > load:+', 'load:- > bat:-'],
      ambient_degC: 105,
    })
  test('0.5 A of nothing is over, with no share to give', () => {
    expect(found(hot(0.5), 'conductor-ampacity', 'w')).toMatchObject({ verdict: 'over', limit: 0, used: null })
  })
  test('nothing of nothing is clear', () => {
    expect(found(hot(0), 'conductor-ampacity', 'w')).toMatchObject({ verdict: 'clear', limit: 0, used: 0 })
  })
})

// A figure that must not fall short: its share is the limit over the value. A battery of no resistance is solved with 10 µΩ.
describe('an at-least limit', () => {
  const fed = (openCircuit_V: number, minimum_V: number, plus = 'bat:+') => {
    const document = wiring({
      parts: { bat: battery(openCircuit_V, 0), load: draws(1, { minimum_V: 1 }) },
      joins: [`${plus} > load:+`, 'load:- > bat:-'],
    })
    // A lowest voltage of 0 V is no figure of the format; another caller may bring it.
    return {
      ...document,
      parts: document.parts.map((part) => (part.key === 'load' ? { ...part, ratings: { ...part.ratings, minimum_V } } : part)),
    }
  }
  test.each<[string, VehicleDocument, string, number | null]>([
    ['12 V for 9 V: 75 %', fed(12, 9), 'clear', 0.75],
    ['0.5 V for 0.25 V: half of it', fed(0.5, 0.25), 'clear', 0.5],
    ['none for 0.5 V: over, with no share', fed(12, 0.5, 'bat:-'), 'over', null],
    ['none for none', fed(12, 0, 'bat:-'), 'clear', 0],
  ])('%s', (_, document, verdict, used) => {
    const finding = found(document, 'load-voltage', 'load')
    expect(finding?.verdict).toBe(verdict)
    if (used === null) expect(finding?.used).toBeNull()
    else expect(finding?.used ?? Number.NaN).toBeCloseTo(used, 4)
  })
})

describe('worst first', () => {
  const order = (document: VehicleDocument, rules: readonly string[]) =>
    checkVehicle(document)
      .findings.filter((one) => rules.includes(one.rule))
      .map((one) => `${one.verdict} ${one.rule} ${one.component}`)
  // 16 V of 32 V and 10 A of a fuse of 20 A: both half; the contact rated 20 A likewise. The fuse d is the first by key and has less left.
  test('by verdict, by share, by rule, by component', () => {
    const document = wiring({
      parts: {
        bat: battery(12.6, 0.001),
        d: ['fuse', { rated_A: 20, rated_V: 15 }, { zone: 'z' }],
        e: ['fuse', { rated_A: 20, rated_V: 32 }, { zone: 'z' }],
        c: ['switch', { rated_A: 20, rated_V: 32 }],
        f: ['breaker', { rated_A: 20, rated_V: 24 }, { zone: 'z' }],
        g: ['breaker', { rated_V: 32 }, { zone: 'z' }],
        a: ['switch', { rated_V: 32 }],
        load: draws(18, { nature: 'resistive' }),
      },
      joins: [
        'bat:+ > d:in',
        'd:out > e:in',
        'e:out > c:in',
        'c:out > f:in',
        'f:out > g:in',
        'g:out > a:in',
        'a:out > load:+',
        'load:- > bat:-',
      ],
      ambient_degC: 25,
    })
    expect(order(document, ['rated-voltage', 'fuse-load', 'contact-load'])).toEqual([
      'over rated-voltage d', // 16/15
      'tight contact-load c', // 18/20 each
      'tight fuse-load d',
      'tight fuse-load e',
      'tight fuse-load f',
      'unknown contact-load a', // no share
      'unknown fuse-load g',
      'clear rated-voltage f', // 16/24
      'clear rated-voltage a', // 16/32 each
      'clear rated-voltage c',
      'clear rated-voltage e',
      'clear rated-voltage g',
    ])
  })
  test('none of a limit stands before what has no share', () => {
    const dark = wiring({
      parts: {
        bat: battery(12.6, 0.001),
        f: ['fuse', { rated_A: 20, rated_V: 32 }, { zone: 'z' }],
        a: ['switch', { rated_V: 32 }],
        load: ['load', { rated_V: 12 }],
      },
      joins: ['bat:+ > f:in', 'f:out > a:in', 'a:out > load:+', 'load:- > bat:-'],
      ambient_degC: 25,
    })
    expect(order(dark, ['fuse-load', 'contact-load'])).toEqual(['unknown fuse-load f', 'unknown contact-load a'])
  })
  // What any value passes goes before what is past its limit by a share; two of those stand by rule.
  test('without end before 1.25', () => {
    const hot: Parts[string] = ['conductor', { material: 'copper', crossSection_mm2: 4, insulation_degC: 105 }, { length_m: 1, zone: 'z' }]
    const document = wiring({
      parts: { bat: battery(12.6, 0.001), s: ['switch', SWITCH], v: hot, w: hot, load: resistive(12.5) },
      joins: ['bat:+ > s:in', 's:out > w:a', 'w:b > load:+', 'load:- > v:a', 'v:b > bat:-'],
      ambient_degC: 105,
    })
    expect(order(document, ['contact-load', 'conductor-ampacity', 'conductor-protection'])).toEqual([
      'over conductor-ampacity v',
      'over conductor-ampacity w',
      'over conductor-protection w',
      'over contact-load s',
    ])
  })
  test('by rule before by component', () => {
    const document = wiring({
      parts: { bat: battery(12.6, 0.001), z: ['fuse', { rated_V: 32 }, { zone: 'z' }], a: ['switch', { rated_A: 20 }], load: resistive(5) },
      joins: ['bat:+ > z:in', 'z:out > a:in', 'a:out > load:+', 'load:- > bat:-'],
      ambient_degC: 25,
    })
    expect(order(document, ['fuse-load', 'rated-voltage']).slice(0, 2)).toEqual(['unknown fuse-load z', 'unknown rated-voltage a'])
  })
  test('sixty alike', () => {
    const two = (n: number) => `${n}`.padStart(2, '0')
    const fuses = Array.from({ length: 20 }, (_, n) => `f${two(n)}`)
    const switches = Array.from({ length: 20 }, (_, n) => `s${two(n)}`)
    const path = ['bat:+', ...[...fuses, ...switches].flatMap((key) => [`${key}:in`, `${key}:out`]), 'load:+']
    const document = wiring({
      parts: {
        bat: battery(12.6, 0.001),
        ...Object.fromEntries(fuses.map((key) => [key, ['fuse', {}, { zone: 'z' }] as const])),
        ...Object.fromEntries(switches.map((key) => [key, ['switch', {}] as const])),
        load: resistive(5),
      },
      joins: ['load:- > bat:-', ...path.flatMap((end, n) => (n % 2 === 0 ? [`${end} > ${path[n + 1]}`] : []))],
      ambient_degC: 25,
    })
    expect(order(document, ['fuse-load', 'rated-voltage', 'contact-load'])).toEqual([
      ...switches.map((key) => `unknown contact-load ${key}`),
      ...fuses.map((key) => `unknown fuse-load ${key}`),
      ...[...fuses, ...switches].map((key) => `unknown rated-voltage ${key}`),
    ])
  })
  // 16 V of an assumed 32 V is half of either; the fuse, whose 2 A of 20 A is looked at first, stands second.
  test('doubts that are alike stand by component', () => {
    const document = wiring({
      parts: {
        bat: battery(12.6, 0.001),
        a: ['switch', { rated_V: 32 }],
        z: ['fuse', { rated_A: 20, rated_V: 32 }, { zone: 'z' }],
        load: resistive(2),
      },
      joins: ['bat:+ > z:in', 'z:out > a:in', 'a:out > load:+', 'load:- > bat:-'],
      ambient_degC: 25,
    })
    expect(order(document, ['rating-evidence']).slice(0, 2)).toEqual(['clear rating-evidence a', 'clear rating-evidence z'])
  })
})

describe('a limit that is only assumed', () => {
  const doubt = (current_A: number) => found(switched(current_A, { grade: 'assumed' }), 'rating-evidence', 's')
  test('nothing flows: no doubt', () => expect(doubt(0)).toBeUndefined())
  test('6 A of 10 A, and less than one part in 10⁹ more', () => {
    expect(doubt(6)).toMatchObject({ verdict: 'clear', remedy: '' })
    expect(doubt(6.000000003)?.verdict).toBe('clear')
  })
  // 7.5 A of 10 A is 75 %; of the 60 % that may rest on an assumption it is 75/60 = 1.25.
  test('7.5 A of 10 A', () => {
    const finding = doubt(7.5)
    expect(finding).toMatchObject({ verdict: 'tight', limit: 60, unit: '%', tightAbove: 1, overAbove: 1, evidence: 'assumed', missing: [] })
    expect(finding?.value).toBeCloseTo(75, 9)
    expect(finding?.used).toBeCloseTo(1.25, 9)
    expect(finding?.says).toBe('s uses 75 % of a limit that is only assumed (contact-load).')
    expect(finding?.remedy).toMatch(/^Find the part’s sheet/)
  })
})
