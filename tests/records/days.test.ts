import { execFileSync } from 'node:child_process'
import { join } from 'node:path'
import fc from 'fast-check'
import { describe, expect, it, test } from 'vitest'
import { dayNumber, daysFrom, dayWords, plusDays, plusMonths } from '../../server/records/days.ts'
import { dateWords } from '../../server/web/format.ts'

/** A second reckoning: the machine's own calendar, kept in UTC. */
const utc = (day: string): number => Date.parse(`${day}T00:00:00Z`) / 86_400_000
const anyDay = fc
  .integer({ min: utc('1900-01-01'), max: utc('2199-12-31') })
  .map((n) => new Date(n * 86_400_000).toISOString().slice(0, 10))

describe('days as text', () => {
  it('read in a sentence of the records as on pages, in every month', () => {
    expect(dayWords('2024-05-03')).toBe('3 May 2024')
    for (let month = 1; month <= 12; month++) {
      const day = `2027-${String(month).padStart(2, '0')}-08`
      // The calendar of the machine words it the second time.
      const words = new Intl.DateTimeFormat('en-GB', { dateStyle: 'long', timeZone: 'UTC' }).format(new Date(`${day}T00:00:00Z`))
      expect([dayWords(day), dateWords(day)]).toEqual([words, words])
    }
  })
  it('counts days as the calendar of the machine does in UTC', () => {
    fc.assert(
      fc.property(anyDay, anyDay, (from, to) => {
        expect(daysFrom({ from, to })).toBe(utc(to) - utc(from))
      }),
    )
  })

  it('adds days as that calendar does', () => {
    fc.assert(
      fc.property(anyDay, fc.integer({ min: -20_000, max: 20_000 }), (day, count) => {
        expect(plusDays(day, count)).toBe(new Date((utc(day) + count) * 86_400_000).toISOString().slice(0, 10))
        expect(dayNumber(plusDays(day, count)) - dayNumber(day)).toBe(count)
      }),
    )
  })

  it.each([
    ['2026-11-25', 1, '2026-12-25'],
    ['2026-12-25', 1, '2027-01-25'],
    ['2026-01-31', 1, '2026-02-28'],
    ['2024-01-31', 1, '2024-02-29'],
    ['2024-02-29', 12, '2025-02-28'],
    ['2000-02-29', 1200, '2100-02-28'],
    ['2026-03-31', 6, '2026-09-30'],
    ['2026-05-03', 24, '2028-05-03'],
  ])('%s and %i months is %s', (day, count, then) => expect(plusMonths(day, count)).toBe(then))
})

test('R20: a day is the same day in every time zone, across both clock changes', () => {
  const script = `import { daysFrom, plusDays, plusMonths } from '${join(import.meta.dirname, '../../server/records/days.ts')}'
console.log([plusMonths('2027-02-28', 1), plusMonths('2027-09-26', 1), plusDays('2027-03-13', 1), plusDays('2027-03-28', 1), daysFrom({ from: '2027-03-01', to: '2027-11-30' })].join(' '))`
  for (const TZ of ['UTC', 'America/Los_Angeles', 'Pacific/Kiritimati', 'Europe/London'])
    expect(
      execFileSync(process.execPath, ['--import', 'tsx', '--input-type=module', '-e', script], {
        env: { ...process.env, TZ },
        encoding: 'utf8',
      }).trim(),
      TZ,
    ).toBe('2027-03-28 2027-10-26 2027-03-14 2027-03-29 274')
})
