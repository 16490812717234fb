import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { expect, test } from 'vitest'
import { checkDatabaseFile } from '../../server/records/database-file.ts'
import { setUp, startLoombook, vehiclesOf } from '../hosting.ts'
import { mixed, percentile, slope_MBperH, walBytes } from './mixed.ts'

test('R15, shortened: 32 clients at once while an export is read: nobody hears of a held database, nothing said to be saved is missing', async () => {
  const data = mkdtempSync(join(tmpdir(), 'loombook-mixed-'))
  const running = await startLoombook({ env: { LOOMBOOK_DATA: data, LOOMBOOK_LOG_LEVEL: 'warn' } })
  try {
    const { cookie, token } = await setUp(running.url, 'demonstration')
    const vehicles = await vehiclesOf(running.url, cookie)
    const before = entriesIn(data)
    const told = await mixed({ url: running.url, cookie, token, vehicles, data, clients: 32, lasts_s: 4, reader_s: 3 })
    expect(told.faults).toEqual([])
    expect(told.busy).toBe(0)
    expect(told.entries).toBeGreaterThan(0)
    expect(told.archive_bytes).toBeGreaterThan(1000)
    expect(entriesIn(data) - before).toBe(told.entries)
    expect(walBytes(data)).toBeLessThan(64 * 1024 * 1024)
    running.child.kill('SIGTERM')
    expect(await running.ended).toBe(0)
    expect(checkDatabaseFile(join(data, 'loombook.sqlite')).faults).toEqual([])
  } finally {
    running.child.kill('SIGKILL')
    rmSync(data, { recursive: true, force: true })
  }
}, 240_000)

test('a percentile is a time that was measured', () => {
  // Nearest rank: of 100 times the 99th, of 10 the tenth.
  const hundred = Array.from({ length: 100 }, (_, n) => n + 1)
  expect([percentile(hundred, 0.99), percentile(hundred, 0.5), percentile(hundred.slice(0, 10), 0.99)]).toEqual([99, 50, 10])
  expect(percentile([], 0.5)).toBeNaN()
})

test('a slope is that of the line, and what scatters about it is told beside', () => {
  // 1 MB in 60 s is 60 MB in an hour; of a line nothing scatters.
  const line = Array.from({ length: 10 }, (_, n) => ({ at_s: n * 60, rss_MB: 300 + n }))
  expect(slope_MBperH(line).slope).toBeCloseTo(60, 9)
  expect(slope_MBperH(line).error).toBeCloseTo(0, 9)
  // (0,0), (1,1), (2,0): no slope, left over 1/9 + 4/9 + 1/9 = 2/3, one degree of freedom, squares of time 2: sqrt(2/3/2) a second.
  const tent = [0, 1, 0].map((rss_MB, at_s) => ({ at_s, rss_MB }))
  expect(slope_MBperH(tent).slope).toBeCloseTo(0, 9)
  expect(slope_MBperH(tent).error).toBeCloseTo(Math.sqrt(1 / 3) * 3600, 6)
})

function entriesIn(data: string): number {
  const client = new Database(join(data, 'loombook.sqlite'), { readonly: true })
  try {
    return Number(client.prepare('SELECT count(*) FROM entries').pluck().get())
  } finally {
    client.close()
  }
}
