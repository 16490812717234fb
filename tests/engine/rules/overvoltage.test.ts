import { describe, expect, test } from 'vitest'
import { battery, draws, off, type Parts, running, wiring } from '../solve/wiring.ts'
import { judged } from './judged.ts'

const alternator = (setPoint_V?: number): Parts[string] => [
  'alternator',
  { output_A: 60, ...(setPoint_V === undefined ? {} : { setPoint_V }) },
]
const radio = (maximum_V?: number) => draws(2, maximum_V === undefined ? {} : { maximum_V })

// bat and whatever else on one post, a load straight on it.
const bench = (more: Parts, joins: readonly string[], conditions = [off]) =>
  wiring({
    parts: { bat: battery(12.6, 0.01), ...more },
    joins: ['bat:+ > load:+', 'load:- > bat:-', ...joins],
    conditions,
  })
const charged = (maximum_V: number | undefined, setPoint_V: number | undefined) =>
  bench({ alt: alternator(setPoint_V), load: radio(maximum_V) }, ['alt:+ > bat:+', 'alt:- > bat:-'])
const of = (document: ReturnType<typeof bench>) => judged(document, 'overvoltage', 'load')

describe('overvoltage', () => {
  // By hand: the higher of the battery's 12.6 V and the alternator's set-point against what the load stands.
  test.each([
    ['15 V for a set-point of 14.4 V', 15, 14.4, 'clear'],
    ['14.5 V: 99.3 % is no matter, there is no tight', 14.5, 14.4, 'clear'],
    ['14.4 V: at the limit', 14.4, 14.4, 'clear'],
    ['14.39 V', 14.39, 14.4, 'over'],
    ['14 V for 14.4 V', 14, 14.4, 'over'],
  ] as const)('%s', (_, maximum_V, setPoint_V, verdict) => {
    const found = of(charged(maximum_V, setPoint_V))
    expect([found?.verdict, found?.value, found?.limit, found?.unit]).toEqual([verdict, setPoint_V, maximum_V, 'V'])
    expect([found?.tightAbove, found?.overAbove]).toEqual([null, 1])
    expect(found?.used).toBeCloseTo(setPoint_V / maximum_V, 9)
  })

  // ISO 16750-2 code C (read): a 12 V system runs at up to 16 V; a lamp made for 12 V and no more is not for it.
  test('the running window’s end: 16 V against 16 V, and against 12 V', () => {
    expect(of(charged(16, 16))?.verdict).toBe('clear')
    expect(of(charged(12, 16))?.verdict).toBe('over')
  })

  test('engine off does not matter: the wiring is judged, not what runs just now', () => {
    const found = of(charged(14, 14.4))
    expect([found?.condition, found?.says]).toEqual(['o', 'load may see 14.4 V of its 14 V highest supply voltage.'])
    expect(found?.figures).toEqual({ 'alt, V': 14.4, 'bat, V': 12.6, 'highest voltage it stands, V': 14 })
    expect(Math.max(found?.figures['alt, V'] as number, found?.figures['bat, V'] as number)).toBe(found?.value)
  })

  test('a battery that stands higher than the set-point counts', () => {
    const document = bench({ bat: battery(13.3, 0.01), alt: alternator(13.1), load: radio(13.2) }, ['alt:+ > bat:+', 'alt:- > bat:-'])
    expect([of(document)?.verdict, of(document)?.value]).toEqual(['over', 13.3])
  })

  test('a battery’s typical open-circuit voltage stands in, and the evidence says so', () => {
    const given = (maximum_V: number) =>
      wiring({ parts: { bat: ['battery', { nominal_V: 12 }], load: radio(maximum_V) }, joins: ['bat:+ > load:+', 'load:- > bat:-'] })
    // 12.65 V: the widely printed table of lead-acid batteries, default column (memory).
    expect([of(given(12.65))?.verdict, of(given(12.65))?.value]).toEqual(['clear', 12.65])
    expect(of(given(12.6))?.verdict).toBe('over')
    const graded = given(13)
    const stated = { ...graded, parts: graded.parts.map((part) => ({ ...part, evidence: { maximum_V: 'datasheet' as const } })) }
    expect(of(stated)?.evidence).toBe('typical')
  })

  test('the poorer of the two grades is the evidence', () => {
    const document = charged(15, 14.4)
    const graded = (load: 'marked' | 'assumed', alt: 'measured' | 'datasheet') => ({
      ...document,
      parts: document.parts.map((part) => ({
        ...part,
        evidence: part.key === 'load' ? { maximum_V: load } : part.key === 'alt' ? { setPoint_V: alt } : {},
      })),
    })
    expect(of(graded('marked', 'datasheet'))?.evidence).toBe('marked')
    expect(of(graded('marked', 'measured'))?.evidence).toBe('measured')
    expect(of(graded('assumed', 'measured'))?.evidence).toBe('assumed')
  })

  test('a charger’s output counts', () => {
    const document = bench({ sun: ['charger', { output_V: 15.5, output_A: 5 }], load: radio(15) }, ['sun:out > bat:+', 'sun:- > bat:-'])
    expect([of(document)?.verdict, of(document)?.value]).toEqual(['over', 15.5])
  })

  // The way in through a converter is no way for the volts before it.
  test('behind a converter only its own output counts', () => {
    const document = wiring({
      parts: {
        bat: battery(25.2, 0.01),
        alt: alternator(28.8),
        conv: ['converter', { output_V: 13.8, output_A: 10, efficiency: 0.9 }],
        load: radio(14),
      },
      joins: ['alt:+ > bat:+', 'alt:- > bat:-', 'bat:+ > conv:in', 'conv:- > bat:-', 'conv:out > load:+', 'load:- > conv:-'],
      conditions: [running],
    })
    expect([of(document)?.verdict, of(document)?.value]).toEqual(['clear', 13.8])
    expect(of(document)?.figures).toEqual({ 'conv, V': 13.8, 'highest voltage it stands, V': 14 })
  })

  test('of three sources the highest, wherever it stands in the order', () => {
    const three = (alt_V: number, sun_V: number) =>
      bench({ alt: alternator(alt_V), sun: ['charger', { output_V: sun_V, output_A: 5 }], load: radio(14) }, [
        'alt:+ > bat:+',
        'alt:- > bat:-',
        'sun:out > bat:+',
        'sun:- > bat:-',
      ])
    expect(of(three(14.4, 13.6))?.value).toBe(14.4)
    expect(of(three(13.6, 14.4))?.value).toBe(14.4)
    expect(of(three(12, 12.1))?.value).toBe(12.6)
  })

  test('a set-point that is not known: unknown while the known ones are within, over once they are not', () => {
    const within = of(charged(15, undefined))
    expect([within?.verdict, within?.value, within?.missing]).toEqual(['unknown', 12.6, ['set-point of alt']])
    expect(within?.remedy).toBe('Find out: set-point of alt.')
    expect(within?.says).toBe('load may see 12.6 V of its 15 V highest supply voltage. Not known: set-point of alt.')
    expect(within?.figures).toMatchObject({ 'alt, V': null })
    expect(of(charged(12, undefined))?.verdict).toBe('over')
  })

  test('no set-point known at all', () => {
    const document = wiring({
      parts: { alt: alternator(), load: radio(15) },
      joins: ['alt:+ > load:+', 'load:- > alt:-'],
      conditions: [running],
    })
    const found = of(document)
    expect([found?.verdict, found?.value, found?.limit, found?.evidence]).toEqual(['unknown', null, 15, 'assumed'])
    expect(found?.says).toBe('load may see an unknown voltage: set-point of alt not known.')
  })

  test('a pump is a load too', () => {
    const document = bench({ load: ['pump', { behaviour: 'current', current_A: 5, rated_V: 12, maximum_V: 12 }] }, [])
    expect(of(document)?.verdict).toBe('over')
  })

  describe('nothing to judge', () => {
    test('a load that states no highest voltage', () => expect(of(charged(undefined, 14.4))).toBeUndefined())
    test('a load that no source reaches', () => {
      const document = wiring({
        parts: { bat: battery(12.6, 0.01), other: draws(1), load: radio(5) },
        joins: ['bat:+ > other:+', 'other:- > bat:-', 'load:- > bat:-'],
      })
      expect(of(document)).toBeUndefined()
    })
  })
})
