/** Remedies: the next standard size that clears a finding and harms nothing else, by hand. */
import { describe, expect, test } from 'vitest'
import { checkWithRemedies } from '../../server/engine/remedies.ts'
import type { Ratings } from '../../server/engine/vehicle.ts'
import { battery, draws, off, type Parts, wiring } from './solve/wiring.ts'

const wire = (crossSection_mm2: number, length_m = 1): Parts[string] => [
  'conductor',
  { material: 'copper', crossSection_mm2, insulation_degC: 105, insulation: 'XLPE' },
  { length_m, zone: 'z', bundle: 1 },
]
const fuse = (rated_A: number): Parts[string] => ['fuse', { rated_A, rated_V: 32, form: 'C', breaking_A: 6000 }, { zone: 'z' }]

function remedy(rule: string, component: string, given: { readonly fuse: number; readonly wire: number; readonly load: Ratings }) {
  const document = wiring({
    parts: {
      bat: battery(12, 0.01),
      f: fuse(given.fuse),
      w: wire(given.wire),
      load: ['load', { behaviour: 'current', rated_V: 12, nature: 'resistive', ...given.load }],
      g: wire(given.wire),
    },
    joins: ['bat:+ > f:in', 'f:out > w:a', 'w:b > load:+', 'load:- > g:a', 'g:b > bat:-'],
    conditions: [off],
    ambient_degC: 30,
  })
  return checkWithRemedies(document).findings.find((one) => one.rule === rule && one.component === component)?.remedy
}

describe('the remedy of a finding', () => {
  // 18 A of 20 A is 90 %. The next, 25 A: 0.75 · 25 = 18.75 A bears it; 4 mm² bears 50.6 A.
  test('a fuse: the next size that carries it, where the wire bears it', () => {
    expect(remedy('fuse-load', 'f', { fuse: 20, wire: 4, load: { current_A: 18 } })).toBe(
      '25 A at f clears it, and makes nothing else worse.',
    )
  })
  // 0.75 mm² is 0.911 of 18 AWG (0.8232 mm²): 20 · 0.911 = 18.2 A. 30 A on it is 165 %, over already: no larger fuse is named.
  test('no larger fuse on a wire that is over already', () => {
    const text = remedy('fuse-load', 'f', { fuse: 30, wire: 0.75, load: { current_A: 28 } })
    expect(text).not.toContain('clears it, and')
    expect(text).toContain('No standard size of one part alone clears it without harm elsewhere.')
  })
  // 45 A on 4 mm² (50.6 A) is 89 %; 6 mm² lies between 10 AWG (5.2612 mm², 60 A) and 8 AWG (8.3656 mm², 80 A):
  // 60·(80/60)^(ln(6/5.2612)/ln(8.3656/5.2612)) = 60·(4/3)^0.2833 = 65.1 A, so 45 A is 69 %.
  test('a conductor: the next cross-section', () => {
    expect(remedy('conductor-ampacity', 'w', { fuse: 50, wire: 4, load: { current_A: 45 } })).toBe(
      'w in 6 mm² clears it, and makes nothing else worse.',
    )
  })
  // 60 A on 4 mm² is 118 % of 50.6 A; the next smaller, 50 A, is within it and bears 30 A at 60 %.
  test('a fuse too large for its wire: the next smaller', () => {
    expect(remedy('conductor-protection', 'w', { fuse: 60, wire: 4, load: { current_A: 30 } })).toBe(
      '50 A at f clears it, and makes nothing else worse.',
    )
  })
  test('what is missing is no matter of size', () => {
    const document = wiring({
      parts: { bat: battery(12, 0.01), w: wire(4), load: draws(5) },
      joins: ['bat:+ > w:a', 'w:b > load:+', 'load:- > bat:-'],
      conditions: [off],
      ambient_degC: 30,
    })
    const bare = checkWithRemedies(document).findings.find((one) => one.rule === 'conductor-protection')
    expect([bare?.verdict, bare?.remedy]).toEqual(['over', 'Put a fuse at the battery end.'])
  })
})
