import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { makeHouseholdOfYears } from './household-of-years.ts'
import { brokenBars, soakYears } from './run-years.ts'
import { grown, type Look, lateSlope } from './watching.ts'

test('R21, shortened: people ask for every kind of page, for photos and by programs, and save; no fault, no file stays open', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'loombook-years-'))
  try {
    const data = join(folder, 'data')
    const household = await makeHouseholdOfYears(data, { years: 20, vehicles: 3, entries: 360, photos: 90, parts: 140, people: 4 })
    const soaked = await soakYears({ data, household, lasts_s: 12, pause_ms: 200 })
    expect(soaked.faults).toEqual([])
    // A time is kept of each answer, and each that is not as it should be is a fault: so each kind was answered well.
    expect(soaked.kinds.filter(({ name }) => (soaked.times_ms.get(name) ?? []).length === 0)).toEqual([])
    expect(soaked.entries).toBeGreaterThan(0)
    expect(soaked.photos).toBeGreaterThan(0)
    expect(grown(soaked.looks.map((one) => one.files))).toBeLessThanOrEqual(0)
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}, 240_000)

const looks = (seconds: readonly number[], of: (at_s: number) => Partial<Look>): readonly Look[] =>
  seconds.map((at_s) => ({ at_s, rss_MB: 200, files: 30, sockets: 8, wal_MB: 1, worked_s: 0, beside_MB: 0, ...of(at_s) }))
const anHour = Array.from({ length: 61 }, (_, minute) => minute * 60)
const calm = { faults: [], lasts_s: 3600, looks: looks(anHour, () => ({})) }

test('each bar of R21 is broken by itself', () => {
  // Of 20 times the 19th is the 95th percentile.
  const pages = (slow_ms: number) => [...Array<number>(18).fill(50), slow_ms, 900]
  expect(brokenBars(calm, pages(199))).toEqual([])
  expect(brokenBars(calm, pages(200))).toEqual(['p95 of pages 200 ms, at most 200'])
  expect(brokenBars({ ...calm, faults: ['500 vehicle'] }, pages(50))).toEqual(['1 faults'])
  expect(brokenBars({ ...calm, looks: looks(anHour, (at_s) => ({ files: 30 + Math.floor(at_s / 600) })) }, pages(50))).toEqual([
    '2 more open files',
  ])
  const growing = looks(anHour, (at_s) => ({ rss_MB: 200 + at_s / 600 }))
  expect(brokenBars({ ...calm, looks: growing }, pages(50))).toEqual(['memory grows by 6.0 MB/h, more than 5 beyond its error of 0.0'])
  expect(brokenBars({ ...calm, looks: growing, lasts_s: 3599 }, pages(50))).toEqual([])
  const slower = looks(anHour, (at_s) => ({ rss_MB: 200 + at_s / 900 }))
  expect(brokenBars({ ...calm, looks: slower }, pages(50))).toEqual([])
})

test('what fills in the first third is no slope, and what was open for a moment does not count', () => {
  const filling = looks(anHour, (at_s) => ({ rss_MB: 200 + Math.min(at_s, 1200) / 10 }))
  expect(lateSlope(filling).slope).toBeCloseTo(0, 9)
  // Thirds of nine: the first is let be; least of the second 31, of the last 31, then 33.
  expect(grown([20, 25, 30, 31, 40, 32, 35, 31, 60])).toBe(0)
  expect(grown([20, 25, 30, 31, 40, 32, 35, 33, 60])).toBe(2)
})
