import fc from 'fast-check'
import { expect, test } from 'vitest'
import { dayBefore } from '../../server/records/day-before.ts'

test.each([
  ['2024-03-01', '2024-02-29'],
  ['2023-03-01', '2023-02-28'],
  ['2000-03-01', '2000-02-29'],
  ['1900-03-01', '1900-02-28'],
  ['2026-01-01', '2025-12-31'],
  ['2026-05-01', '2026-04-30'],
  ['2026-03-30', '2026-03-29'],
])('the day before %s is %s', (day, before) => {
  expect(dayBefore(day)).toBe(before)
})

test('R20: the same as a calendar of instants in UTC says, for any day', () => {
  fc.assert(
    fc.property(fc.integer({ min: -25_000, max: 60_000 }), (days) => {
      const on = (n: number) => new Date(n * 86_400_000).toISOString().slice(0, 10)
      expect(dayBefore(on(days))).toBe(on(days - 1))
    }),
  )
})
