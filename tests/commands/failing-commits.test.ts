/** A write or a flush of the database's log fails: by a limit on the size of files, and by calls that are answered with EIO. */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { closeDatabase, openDatabase } from '../../server/records/database.ts'

type Attempt = {
  readonly title: string
  readonly status: number
  readonly says: string
  readonly asBefore: boolean
  readonly when: 'failing' | 'well again' | 'first' | 'again'
  readonly live: number
  readonly reads: number
  readonly cut: { readonly count: number; readonly sound: string; readonly loose: number; readonly same: boolean }
}
const child = ['--import', 'tsx', 'tests/running/failing-commits.ts']
const cannotRun = (program: string, args: readonly string[]) => {
  const ran = spawnSync(program, args, { encoding: 'utf8' })
  return ran.status === 0 ? null : `${program}: ${ran.error?.message ?? ran.stderr.slice(0, 200)}`
}
const attempts = (program: string, args: readonly string[]): readonly Attempt[] => {
  const ran = spawnSync(program, args, { encoding: 'utf8', maxBuffer: 1e8 })
  expect([ran.status, ran.stderr]).toEqual([0, ''])
  return ran.stdout
    .trim()
    .split('\n')
    .map((line) => JSON.parse(line) as Attempt)
}
/** What holds of every attempt: saved and told so, or told that nothing was saved and nothing was; also for who starts from the files as they are. */
const bothOrNeither = (all: readonly Attempt[]) => {
  for (const one of all) {
    const saved = one.status === 303
    expect([303, 500], JSON.stringify(one)).toContain(one.status)
    expect({ live: one.live, reads: one.reads, sound: one.cut.sound, loose: one.cut.loose }, JSON.stringify(one)).toEqual({
      ...{ live: saved ? 1 : 0, reads: 200, sound: 'ok', loose: 0 },
    })
    if (saved) expect(one.cut, JSON.stringify(one)).toMatchObject({ count: 1, same: true })
    else expect([one.asBefore, one.says], JSON.stringify(one)).toEqual([true, 'Something went wrong on our side. Nothing was saved.'])
  }
}

let folder: string
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'failing-'))
})
afterEach(() => rmSync(folder, { recursive: true, force: true }))

describe('R5: the k-th write or flush of a commit fails', () => {
  test('a write, wherever in the log: nothing of the entry is there, told so each time, and sent again it is one entry', (context) => {
    const cannot = cannotRun('prlimit', ['--pid', String(process.pid), '--fsize'])
    if (cannot !== null) return context.skip(`the size of files cannot be limited here: ${cannot}`)
    const all = attempts(process.execPath, [...child, folder, 'writes'])
    bothOrNeither(all)
    const failing = all.filter(({ when }) => when === 'failing')
    // From the log's own header on until the whole commit fits, and no further.
    expect(failing.filter(({ status }) => status === 500).length).toBeGreaterThanOrEqual(20)
    expect(failing.at(-1)?.status).toBe(303)
    for (const one of failing) if (one.status === 500) expect(one.cut, JSON.stringify(one)).toMatchObject({ count: 0, same: true })
    for (const one of all) if (one.when === 'well again') expect(one.status, one.title).toBe(303)
  }, 240_000)

  test('a flush, once and from then on: never told as saved, and what was told as saved is there after a start', (context) => {
    const injecting = (name: string, when: string) => [
      ...['-f', '-qq', '-o', '/dev/null', '-P', name, '-e', 'trace=fsync,fdatasync'],
      ...['-e', `inject=fsync,fdatasync:error=EIO:when=${when}`],
    ]
    const cannot = cannotRun('strace', [...injecting('/nowhere', '1'), process.execPath, '--version'])
    if (cannot !== null) return context.skip(`calls cannot be made to fail here: ${cannot}`)
    const hit: string[] = []
    for (const when of ['2', '3', '1+', '4+']) {
      const own = mkdtempSync(join(folder, 'run-'))
      const file = join(own, 'tried', 'loombook.sqlite')
      const all = attempts('strace', [...injecting(`${file}-wal`, when), process.execPath, ...child, own, 'flushes'])
      bothOrNeither(all)
      const failed = all.filter(({ status }) => status === 500)
      if (failed.length > 0) hit.push(when)
      const titles = [...new Set(all.map(({ title }) => title))]
      if (!when.endsWith('+')) {
        expect(failed.length, when).toBeLessThanOrEqual(1)
        expect(all.filter(({ status }) => status === 303).map(({ title }) => title)).toEqual(titles)
      } else expect(all.slice(all.indexOf(failed[0] as Attempt)).every(({ status }) => status === 500)).toBe(true)
      // A flush that failed may still have reached the disk: then all of it is there after a start, never a part, never twice.
      const after = openDatabase(file)
      const count = after.$client.prepare('SELECT count(*) FROM entries WHERE title = ?').pluck()
      for (const title of titles) {
        const told = all.some((one) => one.title === title && one.status === 303)
        expect(told ? [1] : [0, 1], `${when}: ${title}`).toContain(count.get(title))
      }
      expect(after.$client.pragma('integrity_check', { simple: true })).toBe('ok')
      closeDatabase(after)
    }
    // The first flushes may be of what is noted beside reading, whose failing is no reason to refuse anything.
    expect(hit).toEqual(expect.arrayContaining(['3', '1+', '4+']))
  }, 240_000)
})
