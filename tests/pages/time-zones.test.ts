import { execFile } from 'node:child_process'
import { join } from 'node:path'
import { promisify } from 'node:util'
import { describe, expect, test } from 'vitest'
import { fixedClock, today } from '../../server/records/clock.ts'
import { instantWords } from '../../server/web/format.ts'
import { DAYS } from './dates-in-zone.ts'

const run = promisify(execFile)
const MONTHS = ['January', 'February', 'March', 'April', 'May', 'June', 'July', 'August', 'September', 'October', 'November', 'December']

async function readIn(zone: string) {
  const script = join(import.meta.dirname, 'dates-in-zone.ts')
  const { stdout } = await run(process.execPath, ['--import', 'tsx', script, 'run', zone], { env: { ...process.env, TZ: zone } })
  return JSON.parse(stdout) as { offset_min: number; read: Record<string, Record<string, unknown>>; tomorrow: number }
}

describe('R20: a day is the same day in every time zone, of the machine and of the settings', () => {
  // At noon UTC on 25 November: minutes behind UTC, and whether the 26th has begun.
  test.each<[string, number, number]>([
    ['UTC', 0, 422],
    ['America/Los_Angeles', 480, 422],
    ['Pacific/Kiritimati', -840, 303],
    ['Europe/Berlin', -60, 422],
    ['Pacific/Apia', -780, 303],
  ])(
    '%s',
    async (zone, offset_min, tomorrow) => {
      const seen = await readIn(zone)
      expect(seen.offset_min === 0 ? 0 : seen.offset_min).toBe(offset_min)
      expect(seen.tomorrow).toBe(tomorrow)
      for (const day of DAYS) {
        const [year, month, date] = day.split('-').map(Number) as [number, number, number]
        const words = `${date} ${MONTHS[month - 1]}`
        const again = `2027${day.slice(4).replace('02-29', '02-28')}`
        expect(seen.read[day], day).toEqual({
          ...{ record: day, row: day, form: day, document: day, due: [again], compared: true },
          ...{ page: `${words} ${year}`, journal: words, asOf: `${words} ${year}` },
        })
      }
    },
    120_000,
  )

  test.each([
    ['2026-11-25T07:59:59Z', 'America/Los_Angeles', '2026-11-24'],
    ['2026-11-25T08:00:00Z', 'America/Los_Angeles', '2026-11-25'],
    ['2026-11-25T09:59:59Z', 'Pacific/Kiritimati', '2026-11-25'],
    ['2026-11-25T10:00:00Z', 'Pacific/Kiritimati', '2026-11-26'],
    ['2026-03-28T22:59:59Z', 'Europe/Berlin', '2026-03-28'],
    ['2026-03-28T23:00:00Z', 'Europe/Berlin', '2026-03-29'],
    ['2026-03-29T21:59:59Z', 'Europe/Berlin', '2026-03-29'],
    ['2026-03-29T22:00:00Z', 'Europe/Berlin', '2026-03-30'],
    ['1970-01-01T00:00:00Z', 'UTC', '1970-01-01'],
  ])('today at %s in %s is %s', (instant, zone, day) => {
    expect(today(fixedClock(instant), zone)).toBe(day)
  })

  test.each([
    ['2026-03-29T00:59:59Z', 'Europe/Berlin', '29 March 2026, 01:59'],
    ['2026-03-29T01:00:00Z', 'Europe/Berlin', '29 March 2026, 03:00'],
    ['2026-10-25T00:30:00Z', 'Europe/Berlin', '25 October 2026, 02:30'],
    ['2026-10-25T01:30:00Z', 'Europe/Berlin', '25 October 2026, 02:30'],
    ['2026-11-25T12:00:00Z', 'Pacific/Kiritimati', '26 November 2026, 02:00'],
    ['2026-11-25T00:05:00Z', 'America/Los_Angeles', '24 November 2026, 16:05'],
  ])('the instant %s reads in %s as %s', (instant, zone, words) => {
    expect(instantWords(instant, zone)).toBe(words)
  })
})
