/** Rules that ask for the way from each source, or for the ways of a block: rows worked by hand. Long because it is one list of rows. */
import { describe, expect, test } from 'vitest'
import { compareFindings } from '../../../server/engine/compare.ts'
import type { Finding } from '../../../server/engine/report.ts'
import { checkVehicle } from '../../../server/engine/rules/check.ts'
import type { Condition, Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, ohms, type Parts, running, wiring } from '../solve/wiring.ts'

type Row = readonly [what: string, document: VehicleDocument, verdict: string | undefined, says?: RegExp]

const findingOf = (document: VehicleDocument, rule: string, component: string): Finding | undefined =>
  checkVehicle(document).findings.find((one) => one.rule === rule && one.component === component)
const rows = (rule: string, component: string, cases: readonly Row[]) =>
  describe(rule, () => {
    for (const [what, document, verdict, says] of cases)
      test(what, () => {
        const found = findingOf(document, rule, component)
        expect(found?.verdict).toBe(verdict)
        if (says) expect(`${found?.says} ${found?.missing.join()}`).toMatch(says)
      })
  })

const fuse = (rated_A?: number): Parts[string] => ['fuse', rated_A === undefined ? { rated_V: 32 } : { rated_A, rated_V: 32 }]
// 4 mm² of 105 °C at 30 °C: 50.62 A (33 CFR 183.425 Table 5, between 12 and 10 AWG; worked out beside the ampacity rows).
const wire: Parts[string] = ['conductor', { material: 'copper', crossSection_mm2: 4, insulation_degC: 105 }, { length_m: 1, zone: 'z' }]
const protectedBy = (parts: Parts, joins: readonly string[], conditions: readonly Condition[] = [off]) =>
  wiring({ parts, joins, conditions, ambient_degC: 30 })

const inner = { bat: battery(12.6, 0.01), w: wire, load: draws(5) }
const chain = (...devices: readonly Parts[string][]) => {
  const keys = devices.map((_, n) => `f${n}`)
  const path = ['bat:+', ...keys.flatMap((key) => [`${key}:in`, `${key}:out`]), 'w:a']
  const joins = path.flatMap((end, n) => (n % 2 === 0 ? [`${end} > ${path[n + 1]}`] : []))
  return protectedBy({ ...inner, ...Object.fromEntries(devices.map((device, n) => [`f${n}`, device])) }, [
    ...joins,
    'w:b > load:+',
    'load:- > bat:-',
  ])
}
const twoBatteries = (second: Parts[string]) =>
  protectedBy({ ...inner, aux: battery(12.6, 0.01), f0: fuse(10), f1: second }, [
    'bat:+ > f0:in',
    'f0:out > w:a',
    'aux:+ > f1:in',
    'f1:out > w:a',
    'w:b > load:+',
    'load:- > bat:-',
    'aux:- > bat:-',
  ])
const withAlternator = (more: Parts, joins: readonly string[]) =>
  protectedBy(
    { bat: battery(12.6, 0.01), alt: ['alternator', { setPoint_V: 14.4, output_A: 60 }], f: fuse(10), load: draws(5), w: wire, ...more },
    ['bat:+ > f:in', 'f:out > load:+', 'load:- > bat:-', 'alt:- > bat:-', 'alt:+ > w:a', ...joins],
    [running],
  )
rows('conductor-protection', 'w', [
  ['100 A alone is past 150 % of 50.6 A (75.9 A)', chain(fuse(100)), 'over'],
  [
    '100 A with a device of unknown rating behind it: that one may be small enough',
    chain(fuse(100), fuse()),
    'unknown',
    /rated current of f1/,
  ],
  ['50 A with one of unknown rating: the known one is enough', chain(fuse(50), fuse()), 'clear'],
  ['two known ones: the smaller counts', chain(fuse(100), fuse(40)), 'clear'],
  ['no device at all', chain(), 'over', /no fuse or breaker between bat and its loads/],
  ['from two batteries, 10 A and 40 A', twoBatteries(fuse(40)), 'clear'],
  ['the second behind 80 A: over from there', twoBatteries(fuse(80)), 'over'],
  ['the second behind a device of unknown rating', twoBatteries(fuse()), 'unknown', /rated current of f1/],
  ['an alternator’s lead with no device at the battery’s end', withAlternator({}, ['w:b > bat:+']), 'tight', /at the end of bat/],
  ['the same behind 50 A', withAlternator({ g: fuse(50) }, ['w:b > g:out', 'g:in > bat:+']), 'clear'],
])

// A worst-first list starts with what has no device: there is nothing to divide by, so no share is given.
test('a bare conductor stands before one that is past its limit', () => {
  const document = protectedBy({ ...inner, lamp: draws(60), v: wire, f: fuse(70) }, [
    'bat:+ > w:a',
    'w:b > load:+',
    'load:- > bat:-',
    'bat:+ > f:in',
    'f:out > v:a',
    'v:b > lamp:+',
    'lamp:- > bat:-',
  ])
  const over = checkVehicle(document).findings.filter((one) => one.verdict === 'over')
  expect(over.map((one) => [one.rule, one.component])).toEqual([
    ['conductor-protection', 'w'],
    ['conductor-ampacity', 'v'],
  ])
  expect(over[0]?.used).toBeNull()
})

// FAA AC 43.13-1B Table 11-4 at 12 V (read): lamp 5, inductive and motor 2, resistive 1; electronics 2 by choice.
const switched = (current_A: number, more: Ratings = {}, rated_A: number | null = 20) =>
  wiring({
    parts: {
      bat: battery(12.6, 0.01),
      s: ['switch', { ...(rated_A === null ? {} : { rated_A }), rated_V: 16 }],
      load: draws(current_A, more),
    },
    joins: ['bat:+ > s:in', 's:out > load:+', 'load:- > bat:-'],
    conditions: [off],
  })
rows('contact-load', 's', [
  ['lamp 4 A: 20 of 20 A', switched(4, { nature: 'lamp' }), 'clear'],
  ['lamp 4.1 A: 20.5 of 20 A by its nature alone', switched(4.1, { nature: 'lamp' }), 'tight'],
  ['resistive 16 A: 80 %', switched(16, { nature: 'resistive' }), 'clear'],
  ['resistive 16.1 A', switched(16.1, { nature: 'resistive' }), 'tight'],
  ['motor 21 A', switched(21, { nature: 'motor' }), 'over'],
  ['nature not stated, 4 A: even a lamp would do', switched(4), 'clear'],
  ['nature not stated, 4.1 A: a lamp would not', switched(4.1), 'unknown', /nature of load/],
  ['nature not stated, 17 A: tight whatever it is', switched(17), 'tight'],
  ['nature not stated, 21 A: over whatever it is', switched(21), 'over'],
  ['rating not known', switched(4, { nature: 'lamp' }, null), 'unknown', /rated current/],
])

// Relay sheet as transcribed (read): 70 A at 23 °C, 50 A at 85 °C; straight between: at 54 °C 60 A.
const curve = [
  { ambient_degC: 23, current_A: 70 },
  { ambient_degC: 85, current_A: 50 },
]
const relayed = (current_A: number, ambient_degC: number | null) => {
  const given = {
    parts: {
      bat: battery(12.6, 0.001),
      r: ['relay', { make_A: 40, makeByAmbient: curve, rated_V: 16 }, ambient_degC === null ? {} : { zone: 'z' }] as Parts[string],
      load: draws(current_A),
    },
    joins: ['bat:+ > r:30', 'r:87 > load:+', 'load:- > bat:-'],
    conditions: [off],
  }
  return wiring(ambient_degC === null ? given : { ...given, ambient_degC })
}
rows('contact-load', 'r', [
  ['48 A of 60 A at 54 °C', relayed(48, 54), 'clear'],
  ['60 A of 60 A at 54 °C', relayed(60, 54), 'tight'],
  ['60.1 A at 54 °C', relayed(60.1, 54), 'over'],
  ['ambient not known: the plain figure does not stand in for the curve', relayed(30, null), 'unknown', /ambient temperature/],
  ['ambient not known, past the curve’s best', relayed(71, null), 'over'],
  ['hotter than the curve goes', relayed(10, 90), 'unknown', /carry current at 90 °C/],
  ['hotter than the curve goes, past its last figure', relayed(51, 90), 'over'],
])

// One ampere for each way: in 30, out 10 and 20; total 30.
const blockOf = (ratings: Ratings, loads: readonly number[] = [10, 20]) =>
  wiring({
    parts: {
      bat: battery(12.6, 0.001),
      box: ['block', ratings],
      ...Object.fromEntries(loads.map((current_A, n) => [`load${n}`, draws(current_A)])),
    },
    joins: ['bat:+ > box:in', ...loads.flatMap((_, n) => [`box:${n} > load${n}:+`, `load${n}:- > bat:-`])],
    conditions: [off],
  })
rows('way-load', 'box', [
  ['20 A of 25 A on one way; the feed is not one of them', blockOf({ way_A: 25, total_A: 100 }), 'clear', /way 1, carries 20 A/],
  ['20 A of 24 A', blockOf({ way_A: 24 }), 'tight'],
  ['20 A of 20 A', blockOf({ way_A: 20 }), 'tight'],
  ['20 A of 19.9 A', blockOf({ way_A: 19.9 }), 'over'],
  ['a plain joint: in and out carry the same', blockOf({ way_A: 15 }, [20]), 'over'],
  ['not known', blockOf({}), 'unknown', /rating of one way/],
])
rows('block-load', 'box', [
  ['30 A of 37.5 A: 80 %', blockOf({ total_A: 37.5 }), 'clear'],
  ['30 A of 37 A', blockOf({ total_A: 37 }), 'tight'],
  ['30 A of 30 A', blockOf({ total_A: 30 }), 'tight'],
  ['30 A of 29.9 A', blockOf({ total_A: 29.9 }), 'over'],
  ['not known', blockOf({}), 'unknown', /rating of the whole/],
])

// 50.62 A again, now for the return: the fuse lets it carry its whole rating, through two in parallel half of it each.
const returned = (rated_A: number | undefined, given: { more?: Parts; back?: readonly string[] } = {}) =>
  protectedBy({ bat: battery(12.6, 0.01), f: fuse(rated_A), load: draws(5), g: wire, ...given.more }, [
    'bat:+ > f:in',
    'f:out > load:+',
    ...(given.back ?? ['load:- > g:a', 'g:b > bat:-']),
  ])
const doubled = { more: { h: wire }, back: ['load:- > g:a', 'g:b > bat:-', 'load:- > h:a', 'h:b > bat:-'] }
rows('return-path', 'load', [
  ['50 A', returned(50), 'clear'],
  ['51 A', returned(51), 'tight'],
  ['75.9 A', returned(75.9), 'tight'],
  ['76 A', returned(76), 'over'],
  ['101 A through two: 50.5 A each', returned(101, doubled), 'clear'],
  ['102 A through two: 51 A each', returned(102, doubled), 'tight'],
  ['a fuse of unknown rating', returned(undefined), 'unknown', /rated current of f/],
  ['straight to the battery’s post', returned(50, { back: ['load:- > bat:-'] }), 'clear', /straight to ground/],
  ['no return recorded', returned(50, { back: ['g:b > bat:-'] }), 'unknown', /no return recorded/],
  ['a return that ends nowhere', returned(50, { back: ['load:- > g:a'] }), 'unknown', /does not reach bat/],
])

// Held at its own terminals behind no resistance, the alternator is asked for what the loads draw.
const charging = (current_A: number, engine: 'running' | 'idle', more: Ratings = {}, charge_A = 0) =>
  wiring({
    parts: {
      bat: ['battery', { nominal_V: 12, openCircuit_V: 12.6, internalResistance_ohm: 0.01, capacity_Ah: 60 }],
      alt: ['alternator', { setPoint_V: 14.4, output_A: 50, idleOutput_A: 20, ...more }],
      load: draws(current_A),
    },
    joins: ['alt:+ > bat:+', 'alt:- > bat:-', 'bat:+ > load:+', 'load:- > bat:-'],
    conditions: [{ key: 'r', name: 'driving', engine, charge_A }],
  })
rows('charging-balance', 'alt', [
  ['40 A of 50 A', charging(40, 'running'), 'clear'],
  ['31 A and 10 A of charge: 41 A', charging(31, 'running', {}, 10), 'tight', /41 A/],
  ['50 A: at its output', charging(50, 'running'), 'tight'],
  ['50.1 A', charging(50.1, 'running'), 'over'],
  ['at idle 30 A of 20 A: at most tight', charging(30, 'idle'), 'tight'],
  // 30 Ah are half of 60 Ah: a deficit of more than 30 A has taken them within the hour.
  ['at idle 50 A: 30 A short', charging(50, 'idle'), 'tight'],
  ['at idle 50.1 A: half the battery within the hour', charging(50.1, 'idle'), 'over'],
])
test('charging-balance needs an output', () => {
  const document = wiring({
    parts: { bat: battery(12.6, 0.01), alt: ['alternator', { setPoint_V: 14.4 }], load: draws(5) },
    joins: ['alt:+ > bat:+', 'alt:- > bat:-', 'bat:+ > load:+', 'load:- > bat:-'],
    conditions: [running],
  })
  const found = findingOf(document, 'charging-balance', 'alt')
  expect([found?.verdict, found?.missing]).toEqual(['unknown', ['output']])
})

// 0.6 of a limit is the line, and only figures nobody has read or measured are doubted.
const graded = (current_A: number, grade: 'marked' | 'assumed') => {
  const document = wiring({
    parts: { bat: battery(12.6, 0.001), s: ['switch', { rated_A: 10, rated_V: 16 }], load: draws(current_A, { nature: 'resistive' }) },
    joins: ['bat:+ > s:in', 's:out > load:+', 'load:- > bat:-'],
    conditions: [off],
  })
  return {
    ...document,
    parts: document.parts.map((part) => (part.key === 's' ? { ...part, evidence: { rated_A: grade, rated_V: 'marked' as const } } : part)),
  }
}
rows('rating-evidence', 's', [
  ['6 A of an assumed 10 A', graded(6, 'assumed'), 'clear'],
  ['6.1 A of an assumed 10 A', graded(6.1, 'assumed'), 'tight'],
  ['6.1 A of a marked 10 A', graded(6.1, 'marked'), undefined],
  ['11 A of an assumed 10 A: the rule that is over says enough', graded(11, 'assumed'), undefined],
])

test('two reports compared: what eases is a change, what becomes clear is cleared', () => {
  const at = (current_A: number) => checkVehicle(graded(current_A, 'marked'))
  const verdicts = (from: number, to: number) => {
    const { appeared, cleared, changed } = compareFindings(at(from), at(to))
    const own = (list: readonly Finding[]) => list.filter((one) => one.rule === 'contact-load').map((one) => one.verdict)
    return { appeared: own(appeared), cleared: own(cleared), changed: own(changed.map((one) => one.after)) }
  }
  expect(verdicts(11, 9)).toEqual({ appeared: [], cleared: [], changed: ['tight'] })
  expect(verdicts(9, 11)).toEqual({ appeared: ['over'], cleared: [], changed: [] })
  expect(verdicts(11, 5)).toEqual({ appeared: [], cleared: ['over'], changed: [] })
  expect(verdicts(9, 9)).toEqual({ appeared: [], cleared: [], changed: [] })
})

test('a conductor of a stated resistance drops by Ohm’s law, and the drop’s evidence is the poorest of what it rests on', () => {
  const document = wiring({
    parts: { bat: battery(12.6, 0.001), w: ohms(0.02), load: draws(10) },
    joins: ['bat:+ > w:a', 'w:b > load:+', 'load:- > bat:-'],
    conditions: [off],
  })
  const measured = {
    ...document,
    parts: document.parts.map((part) => ({
      ...part,
      evidence: { resistance20_ohmPerM: 'measured' as const, current_A: 'datasheet' as const },
    })),
  }
  const found = findingOf(measured, 'voltage-drop', 'load')
  expect(found?.value).toBeCloseTo(0.2, 9) // 10 A · 0.02 Ω
  expect(found?.evidence).toBe('measured')
  expect(findingOf(document, 'voltage-drop', 'load')?.evidence).toBe('assumed')
})
