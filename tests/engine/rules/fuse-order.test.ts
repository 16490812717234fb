/** Which of two fuses in series opens first: by their ratings, else by their windows. By hand. */
import { describe, expect, test } from 'vitest'
import { windowOf, windowsStandApart } from '../../../server/engine/tables/fuse-windows.ts'
import type { Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, type Parts, running, wiring } from '../solve/wiring.ts'
import { vehicle } from '../vehicle-builder.ts'
import { judged } from './judged.ts'

const link = (form: string | null, rated_A: number | null): Parts[string] => [
  'fuse',
  { rated_V: 32, ...(form === null ? {} : { form }), ...(rated_A === null ? {} : { rated_A }) },
]
const breaker = (rated_A: number): Parts[string] => ['breaker', { rated_A, rated_V: 32, reset: 'manual' }]
/** battery → the devices in that order (d0, d1 …) → load */
const chain = (...devices: readonly Parts[string][]) => {
  const keys = devices.map((_, n) => `d${n}`)
  return wiring({
    parts: { bat: battery(12, 0.01), load: draws(1), ...Object.fromEntries(devices.map((device, n) => [`d${n}`, device])) },
    joins: ['bat:+ > d0:in', ...keys.slice(1).map((key, n) => `d${n}:out > ${key}:in`), `${keys.at(-1)}:out > load:+`, 'load:- > bat:-'],
    conditions: [off],
  })
}
const judge = (document: VehicleDocument, device = 'd1') => judged(document, 'fuse-order', device)

// Twice the rating, or windows that do not meet (common practice).
describe('by the ratings', () => {
  test('40 A ahead of 20 A: at the limit', () => {
    const found = judge(chain(link('C', 40), link('C', 20)))
    expect(found).toMatchObject({ verdict: 'clear', value: 40, limit: 40, unit: 'A', used: 1, tightAbove: null, missing: [] })
    expect(found?.names).toEqual(['inner, d1', 'outer, d0', 'windows stand apart'])
    expect(found?.units).toEqual(['A', 'A', ''])
    expect(found?.figure('inner, d1')).toBe(20)
    expect(found?.figure('outer, d0')).toBe(40)
    expect(found?.limit).toBe(2 * (found?.number('inner, d1') ?? 0))
  })
  test('39 A ahead of 20 A: tight, never over', () => {
    const found = judge(chain(link('C', 39), link('C', 20)))
    expect(found).toMatchObject({ verdict: 'tight', value: 39, limit: 40 })
    expect(found?.figure('windows stand apart')).toBe('not shown')
    expect(found?.says).toBe('d0 ahead of d1 has 39 A against a minimum, twice that of d1, of 40 A.')
    expect(judge(chain(link('C', 5), link('C', 40)))).toMatchObject({ verdict: 'tight', value: 5, limit: 80 })
  })
  test('breakers count as fuses do', () => {
    expect(judge(chain(breaker(40), breaker(20)))).toMatchObject({ verdict: 'clear', value: 40, limit: 40 })
    expect(judge(chain(breaker(39), link('C', 20)))).toMatchObject({ verdict: 'tight', value: 39, limit: 40 })
  })
  test('what is twice the rating needs no windows', () => {
    expect(judge(chain(link(null, 40), link(null, 20)))).toMatchObject({ verdict: 'clear', value: 40 })
    expect(judge(chain(link('E', 40), link('C', 10)))).toMatchObject({ verdict: 'clear', value: 40, limit: 20 })
  })
})

describe('by their windows', () => {
  // C 10 A (read, 600 % memory) inside E 19 A (read): 135 % of 10 A is 71 % of 19 A: 600 s against 100 h; 160 % 84 %: 50 s; 200 % 105 %: 5 s against
  // 60 s at 135 %; 350 % 184 %: 0.5 s against 2 s at 200 %; 600 % 316 %: 0.1 s against 0.2 s at 350 %.
  test('they stand apart: clear below twice the rating', () => {
    const found = judge(chain(link('E', 19), link('C', 10)))
    expect(found).toMatchObject({ verdict: 'clear', value: null, limit: null, unit: 'A', missing: [] })
    expect(found?.figure('windows stand apart')).toBe('yes')
    expect(found?.says).toBe('d1 opens before d0 at every multiple listed for it.')
  })
  test('from twice the rating on the ratings are told', () => {
    expect(judge(chain(link('E', 20), link('C', 10)))).toMatchObject({ verdict: 'clear', value: 20, limit: 20 })
    expect(judge(chain(link('E', 25), link('C', 10)))).toMatchObject({ verdict: 'clear', value: 25, limit: 20 })
  })
  // Inside E 17 A: 350 % of 10 A is 206 %: 0.5 s against 0.2 s.
  test('they meet at one multiple: tight', () => {
    expect(judge(chain(link('E', 17), link('C', 10)))).toMatchObject({ verdict: 'tight', value: 17, limit: 20 })
  })
  test('one of them has none: tight', () => {
    expect(judge(chain(link('E', 19), link(null, 10)))).toMatchObject({ verdict: 'tight', value: 19, limit: 20 })
    expect(judge(chain(link('class-T', 19), link('C', 10)))).toMatchObject({ verdict: 'tight', value: 19 })
  })
  test('which window stands for what', () => {
    const device = (kind: string, form: string | null, rated_A: number) => ({ rated_A, window: windowOf({ kind, form, rated_A }) })
    const apart = (inner: ReturnType<typeof device>, outer: ReturnType<typeof device>) => windowsStandApart({ inner, outer })
    expect(apart(device('fuse', 'C', 10), device('fuse', 'E', 19))).toBe(true)
    // The shortest time of glass is not listed at 135 and 200 %.
    expect(apart(device('fuse', 'C', 10), device('fuse', 'glass', 19))).toBe(false)
    // A breaker may take 60 s at 200 %, 105 % of E 19 A: 60 s there. It does not open before.
    expect(apart(device('breaker', null, 10), device('fuse', 'E', 19))).toBe(false)
    // At 200 % it is 100 % of E 20 A, which holds 100 h.
    expect(apart(device('breaker', null, 10), device('fuse', 'E', 20))).toBe(true)
    // Beyond what is listed nothing holds: 600 % of 10 A is 1000 % of 6 A.
    expect(apart(device('fuse', 'C', 10), device('fuse', 'SF30', 6))).toBe(false)
  })
})

describe('what is not known', () => {
  test('the outer rating', () => {
    const found = judge(chain(link('C', null), link('C', 10)))
    expect(found).toMatchObject({ verdict: 'unknown', value: null, limit: 20, missing: ['rated current of d0'], evidence: 'assumed' })
    expect(found?.figure('outer, d0')).toBeNull()
    expect(found?.figure('windows stand apart')).toBe('not shown')
  })
  test('the inner rating', () => {
    expect(judge(chain(link('C', 40), link('C', null)))).toMatchObject({
      verdict: 'unknown',
      value: 40,
      limit: null,
      missing: ['rated current of d1'],
    })
  })
  test('both', () => {
    expect(judge(chain(link('C', null), link('C', null)))?.missing).toEqual(['rated current of d1', 'rated current of d0'])
  })
})

describe('of several ahead the worst is told', () => {
  test('the nearer or the farther', () => {
    expect(judge(chain(link('C', 40), link('C', 25), link('C', 20)), 'd2')).toMatchObject({ verdict: 'tight', value: 25 })
    expect(judge(chain(link('C', 25), link('C', 40), link('C', 20)), 'd2')).toMatchObject({ verdict: 'tight', value: 25 })
    expect(judge(chain(link('C', 40), link('C', 50), link('C', 20)), 'd2')).toMatchObject({ verdict: 'clear', value: 40 })
  })
  test('of two alike the first', () => {
    expect(judge(chain(link('C', 25), link('C', 25), link('C', 20)), 'd2')?.says).toContain('d0 ahead')
  })
  test('one that is not known stands before a clear one, behind a tight one', () => {
    expect(judge(chain(link('C', 40), link('C', null), link('C', 20)), 'd2')).toMatchObject({ verdict: 'unknown' })
    expect(judge(chain(link('C', 25), link('C', null), link('C', 20)), 'd2')).toMatchObject({ verdict: 'tight', value: 25 })
    expect(judge(chain(link('C', null), link('C', 25), link('C', 20)), 'd2')).toMatchObject({ verdict: 'tight', value: 25 })
    expect(judge(chain(link('C', 38), link('C', null), link('C', 20)), 'd2')).toMatchObject({ verdict: 'tight', value: 38 })
  })
  test('windows apart from one, meeting another', () => {
    expect(judge(chain(link('E', 19), link('C', 15), link('C', 10)), 'd2')).toMatchObject({ verdict: 'tight', value: 15 })
    expect(judge(chain(link('E', 30), link('E', 19), link('C', 10)), 'd2')).toMatchObject({ verdict: 'clear', value: 30 })
  })
})

describe('nothing to judge', () => {
  test('the outermost', () => {
    expect(judge(chain(link('C', 40), link('C', 20)), 'd0')).toBeUndefined()
  })
  const feeding = (source: Parts[string]) =>
    wiring({
      parts: { src: source, a: link('C', 20), b: link('C', 20), load: draws(1) },
      joins: ['src:+ > a:in', 'a:out > b:in', 'b:out > load:+', 'load:- > src:-'],
      conditions: [running],
    })
  test('what only an alternator feeds: it limits its own current', () => {
    expect(judge(feeding(battery(12, 0.01)), 'b')?.verdict).toBe('tight')
    expect(judge(feeding(['alternator', { setPoint_V: 14.4, output_A: 60 }]), 'b')).toBeUndefined()
  })
  test('an outer one between two batteries', () => {
    const document = wiring({
      parts: { bat: battery(12, 0.01), aux: battery(12, 0.01), link: link('C', 20), f: link('C', 20), load: draws(1) },
      joins: ['bat:+ > link:in', 'link:out > aux:+', 'aux:- > bat:-', 'aux:+ > f:in', 'f:out > load:+', 'load:- > bat:-'],
      conditions: [off],
    })
    expect(judge(document, 'f')).toBeUndefined()
    // Alone with the first battery the same one is an outer fuse.
    const { components, joins } = document
    const single = { ...document, components: components.filter((one) => one.key !== 'aux') }
    const tied = joins.filter((one) => !one.from.startsWith('aux') && !one.to.startsWith('aux'))
    expect(judge({ ...single, joins: [...tied, { from: 'link:out', to: 'f:in' }] }, 'f')?.verdict).toBe('tight')
  })
})

test('evidence is the poorer of the two ratings’', () => {
  const more = (evidence: Ratings, rated: Ratings) => ({
    extraParts: [{ key: 'main', kind: 'fuse', name: 'main', ratings: { rated_V: 32, form: 'E', ...rated }, evidence: evidence as never }],
    extraComponents: [{ key: 'm', name: 'Main fuse', part: 'main', zone: 'z' }],
    extraJoins: [{ from: 'm:out', to: 'f1:in' }],
  })
  const graded = (evidence: Ratings, rated: Ratings = { rated_A: 60 }, fuse: Ratings = { rated_A: 20, rated_V: 32, form: 'C' }) => {
    const document = vehicle({ ...more(evidence, rated), fuse })
    const joins = document.joins.map((join) => (join.from === 'bat:+' ? { from: 'bat:+', to: 'm:in' } : join))
    return judged({ ...document, joins }, 'fuse-order', 'f1')
  }
  expect(graded({ rated_A: 'datasheet' })).toMatchObject({ verdict: 'clear', value: 60, evidence: 'datasheet' })
  expect(graded({ rated_A: 'marked' })?.evidence).toBe('marked')
  expect(graded({})?.evidence).toBe('assumed')
  expect(graded({ rated_A: 'datasheet' }, {})).toMatchObject({ verdict: 'unknown', evidence: 'assumed' })
  expect(graded({ rated_A: 'datasheet' }, { rated_A: 60 }, { rated_V: 32 })).toMatchObject({ verdict: 'unknown', evidence: 'assumed' })
})
