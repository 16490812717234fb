import fc from 'fast-check'
import { expect, test } from 'vitest'
import { Lately } from '../../server/records/lately.ts'

test('what has not been asked for the longest goes first', () => {
  const kept = new Lately<number>(3)
  for (const [key, value] of [
    ['a', 1],
    ['b', 2],
    ['c', 3],
  ] as const)
    kept.set(key, value, 1)
  expect(kept.get('a')).toBe(1)
  kept.set('d', 4, 1)
  expect(['a', 'b', 'c', 'd'].map((key) => kept.get(key))).toEqual([1, undefined, 3, 4])
})

test('never weighs more than its bound, unless the newest alone does; its weight is that of what it holds', () => {
  const step = fc.record({ key: fc.constantFrom('a', 'b', 'c', 'd', 'e', 'f'), weight: fc.integer({ min: 0, max: 15 }) })
  fc.assert(
    fc.property(fc.array(step, { maxLength: 60 }), (steps) => {
      const kept = new Lately<number>(20)
      for (const { key, weight } of steps) {
        kept.set(key, weight, weight)
        expect(kept.get(key)).toBe(weight)
        const held = ['a', 'b', 'c', 'd', 'e', 'f'].flatMap((one) => kept.get(one) ?? [])
        expect(kept.weight).toBe(held.reduce((sum, one) => sum + one, 0))
        expect(kept.size).toBe(held.length)
        expect(kept.weight <= 20).toBe(true)
      }
      kept.set('large', 1, 99)
      expect([kept.size, kept.weight]).toEqual([1, 99])
    }),
  )
})
