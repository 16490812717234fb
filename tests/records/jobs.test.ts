/** Jobs: once in their period whatever the clock does, again after a kill, and their result kept. */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import type { Clock } from '../../server/records/clock.ts'
import { migratedInMemory, openDatabase } from '../../server/records/database.ts'
import { isStale, type Job, jobsOf, runDue, runNow } from '../../server/records/jobs.ts'

function house(every: Job['every'], run: Job['run'] = () => 'done it') {
  const db = openDatabase(':memory:')
  let now = new Date('2026-11-25T12:00:00Z')
  const clock: Clock = { now: () => now }
  let count = 0
  const job: Job = {
    name: 'j',
    title: 'J',
    every,
    run: () => {
      count++
      return run()
    },
  }
  const at = async (instant: string) => {
    now = new Date(instant)
    await runDue(db, clock, [job], 'Europe/Berlin')
    return count
  }
  return { db, clock, job, at }
}

describe('R20, R26: a job', () => {
  test('of the hour runs once in each, whatever the clock does', async () => {
    const { at } = house('hour')
    expect(await at('2026-11-25T12:00:00Z')).toBe(1)
    expect(await at('2026-11-25T12:59:00Z')).toBe(1)
    expect(await at('2026-11-25T11:30:00Z')).toBe(1)
    expect(await at('1970-01-01T00:00:00Z')).toBe(1)
    expect(await at('2026-11-25T13:00:00Z')).toBe(2)
    expect(await at('2026-11-25T12:10:00Z')).toBe(2)
  })
  test('of the night runs from three by the clock on the wall, once', async () => {
    const { at } = house('night')
    expect(await at('2026-11-25T12:00:00Z')).toBe(1)
    // 01:59 in Greenwich is 02:59 in Berlin.
    expect(await at('2026-11-26T01:59:00Z')).toBe(1)
    expect(await at('2026-11-26T02:00:00Z')).toBe(2)
    expect(await at('2026-11-26T01:00:00Z')).toBe(2)
    expect(await at('2026-11-26T23:00:00Z')).toBe(2)
    expect(await at('2026-11-27T02:30:00Z')).toBe(3)
  })
  test('that ran on a clock years ahead is not put off until then', async () => {
    const { at } = house('night')
    expect(await at('2031-01-01T12:00:00Z')).toBe(1)
    expect(await at('2026-11-25T12:00:00Z')).toBe(2)
  })
  test('killed midway is run again, once', async () => {
    const { db, at } = house('night')
    db.$client.prepare("INSERT INTO jobs (name, started_at, says) VALUES ('j', '2026-11-25T11:00:00.000Z', '')").run()
    expect(await at('2026-11-25T12:00:00Z')).toBe(1)
    expect(await at('2026-11-25T12:05:00Z')).toBe(1)
  })
  test('that fails says so and is tried in its next period; asked for, it runs at any time', async () => {
    const { db, clock, job, at } = house('hour', () => {
      throw new Error('no room')
    })
    expect(await at('2026-11-25T12:00:00Z')).toBe(1)
    expect(jobsOf(db)).toMatchObject([{ name: 'j', result: 'failed', says: 'no room' }])
    expect(await at('2026-11-25T12:30:00Z')).toBe(1)
    expect(await runNow(db, clock, job)).toBe(true)
    expect(await at('2026-11-25T13:00:00Z')).toBe(3)
  })
  test('keeps when it last ended well, whatever became of it since', async () => {
    let fails = false
    const { db, at } = house('night', () => {
      if (fails) throw new Error('no room')
      return 'done it'
    })
    await at('2026-11-25T12:00:00Z')
    fails = true
    await at('2026-11-26T12:00:00Z')
    expect(jobsOf(db)).toMatchObject([{ result: 'failed', lastGoodAt: '2026-11-25T12:00:00.000Z' }])
    fails = false
    await at('2026-11-27T12:00:00Z')
    expect(jobsOf(db)).toMatchObject([{ result: 'done', lastGoodAt: '2026-11-27T12:00:00.000Z' }])
  })
  test('is not run twice at once', async () => {
    let end = () => {}
    const { db, clock, job } = house('hour', () => new Promise((resolve) => (end = () => resolve('done it'))))
    const first = runNow(db, clock, job)
    expect(await runNow(db, clock, job)).toBe(false)
    end()
    expect(await first).toBe(true)
  })
  test('without a good run for 36 hours is late', async () => {
    const { db, at } = house('night')
    await at('2026-11-25T12:00:00Z')
    const [facts] = jobsOf(db)
    expect(isStale(facts, new Date('2026-11-26T23:59:00Z'))).toBe(false)
    expect(isStale(facts, new Date('2026-11-27T00:01:00Z'))).toBe(true)
    expect(isStale(undefined, new Date())).toBe(true)
  })
})

test('the last good end of a job of before the sixth migration is that of its last run, where that ended well', () => {
  const client = migratedInMemory(5)
  const put = client.prepare("INSERT INTO jobs (name, started_at, ended_at, result, says) VALUES (?, 'began', ?, ?, '')")
  put.run('ended well', '2026-11-25T03:00:00.000Z', 'done')
  put.run('failed', '2026-11-25T03:00:00.000Z', 'failed')
  put.run('killed', null, null)
  client.exec(readFileSync(join(import.meta.dirname, '../../migrations/0006_looking-after.sql'), 'utf8'))
  expect(client.prepare('SELECT name, last_good_at FROM jobs ORDER BY name').raw().all()).toEqual([
    ['ended well', '2026-11-25T03:00:00.000Z'],
    ['failed', null],
    ['killed', null],
  ])
})
