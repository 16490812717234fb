import { describe, expect, test } from 'vitest'
import { checkVehicle } from '../../../server/engine/rules/check.ts'
import type { Ratings } from '../../../server/engine/vehicle.ts'
import { battery, draws, ohms, type Parts, wiring } from '../solve/wiring.ts'

const found = (parts: Parts, joins: readonly string[]) =>
  checkVehicle(wiring({ parts: { bat: battery(12.6, 0.001), ...parts }, joins })).findings.find(
    (one) => one.rule === 'block-load' && one.component === 'it',
  )
const loads: Parts = { a: draws(10), b: draws(20) }
const home = ['a:- > bat:-', 'b:- > bat:-']
// 10 A and 20 A: 30 A go in and come out.
const block = (ratings: Ratings, more: Parts = {}, joins: readonly string[] = []) =>
  found({ it: ['block', ratings], ...loads, ...more }, ['bat:+ > it:in', 'it:1 > a:+', 'it:2 > b:+', ...home, ...joins])
const moduleOf = (ratings: Ratings) =>
  found({ it: ['module', ratings], ...loads }, ['bat:+ > it:in', 'it:out1 > a:+', 'it:out2 > b:+', ...home])
const splice = (ratings: Ratings) => found({ it: ['splice', ratings], ...loads }, ['bat:+ > it:1', 'it:2 > a:+', 'it:3 > b:+', ...home])
const ground = (ratings: Ratings) =>
  found({ it: ['ground-point', ratings], g: ohms(0.001), ...loads }, [
    'bat:+ > a:+',
    'bat:+ > b:+',
    'a:- > it:1',
    'b:- > it:2',
    'it:3 > g:a',
    'g:b > bat:-',
  ])

describe('block-load', () => {
  test('a way with a load of unknown current', () => {
    const dark = block({ total_A: 100 }, { dark: ['load', { rated_V: 12 }] }, ['it:3 > dark:+', 'dark:- > bat:-'])
    expect(dark).toMatchObject({ verdict: 'unknown', missing: ['current of dark'] })
  })
  test.each<[string, ReturnType<typeof found>, string]>([
    ['a module’s outputs: 30 A of 37.5 A', moduleOf({ total_A: 37.5 }), 'clear'],
    ['a module’s outputs: 30 A of 37 A', moduleOf({ total_A: 37 }), 'tight'],
    ['a module’s outputs: 30 A of 29.9 A', moduleOf({ total_A: 29.9 }), 'over'],
    ['a module of unknown rating', moduleOf({}), 'unknown'],
    ['a splice: 30 A of 37 A', splice({ rated_A: 37 }), 'tight'],
    ['a splice: 30 A of 29.9 A', splice({ rated_A: 29.9 }), 'over'],
    ['a ground point: 30 A of 37.5 A', ground({ rated_A: 37.5 }), 'clear'],
    ['a ground point: 30 A of 29.9 A', ground({ rated_A: 29.9 }), 'over'],
  ])('%s', (_, finding, verdict) => {
    expect(finding?.verdict).toBe(verdict)
    expect(finding?.value).toBeCloseTo(30, 6)
  })
  // A splice and a bolt seldom have a sheet: without a rating nothing is asked of them.
  test('a splice and a ground point without a rating, and a block nothing is joined to, are not judged', () => {
    expect([splice({}), ground({}), found({ it: ['block', { total_A: 30 }], a: draws(1) }, ['bat:+ > a:+', 'a:- > bat:-'])]).toEqual([
      undefined,
      undefined,
      undefined,
    ])
  })
})
