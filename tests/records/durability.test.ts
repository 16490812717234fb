/** A save that was answered has been flushed to the disk. Loops of kill -9 cannot tell: what the kernel holds outlives the process. So flushes are counted. */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'

const COMMITS = 100
const child = ['--import', 'tsx', 'tests/running/commits.ts']
type Told = {
  readonly flushes: number
  readonly synchronous: number
  readonly full: number
  readonly normal: number
  readonly fullAgain: number
}
const told = (out: string) => JSON.parse(out.trim().split('\n').at(-1) as string) as Told

describe('R2: every commit is flushed before it is answered', () => {
  test('by the times the process waits for the disk: once or more for each commit, and hardly ever under NORMAL', (context) => {
    // A folder in memory flushes nothing, so nothing can be counted there: the folder of the sources is tried too.
    const tried: Told[] = []
    for (const folder of [tmpdir(), process.cwd()]) {
      const ran = spawnSync(process.execPath, [...child, folder, String(COMMITS)], { encoding: 'utf8' })
      if (ran.status !== 0) throw new Error(ran.stderr)
      tried.push(told(ran.stdout))
      if (told(ran.stdout).flushes >= COMMITS) break
    }
    const found = tried.find(({ flushes }) => flushes >= COMMITS)
    if (!found) return context.skip(`no folder here whose flushes are waited for: ${JSON.stringify(tried)}`)
    expect(found.synchronous).toBe(2)
    expect(found.full).toBeGreaterThanOrEqual(COMMITS)
    expect(found.fullAgain).toBeGreaterThanOrEqual(COMMITS)
    // The same counter, the same commits, the same process: this is what a slip looks like.
    expect(found.normal).toBeLessThan(found.full / 4)
  }, 120_000)

  test('by the system calls themselves, where they can be listed: one fsync of the -wal or more for each commit', (context) => {
    const folder = mkdtempSync(join(tmpdir(), 'durability-'))
    try {
      const list = join(folder, 'calls')
      const given = [
        '-f',
        '-qq',
        '-y',
        '-e',
        'trace=fsync,fdatasync,open,openat',
        '-o',
        list,
        process.execPath,
        ...child,
        folder,
        String(COMMITS),
      ]
      const ran = spawnSync('strace', given, { encoding: 'utf8' })
      if (ran.error || ran.status !== 0)
        return context.skip(`strace cannot be used here: ${ran.error?.message ?? ran.stderr.slice(0, 200)}`)
      const calls = readFileSync(list, 'utf8')
      const between = (from: string, to: string) =>
        calls
          .slice(calls.indexOf(`mark-${from}"`), calls.indexOf(`mark-${to}"`))
          .split('\n')
          .filter((line) => /f(data)?sync\(\d+<[^>]*-wal>/.test(line)).length
      expect(between('full', 'normal')).toBeGreaterThanOrEqual(COMMITS)
      expect(between('full-again', 'end')).toBeGreaterThanOrEqual(COMMITS)
      expect(between('normal', 'full-again')).toBeLessThan(COMMITS / 4)
    } finally {
      rmSync(folder, { recursive: true, force: true })
    }
  }, 120_000)
})
