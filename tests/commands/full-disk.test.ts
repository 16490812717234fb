/** A disk of 3 MB that is full: a small file system of its own, in memory, mounted for one process alone. */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, rmdirSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'

type Step = {
  readonly when: 'full' | 'cut short' | 'room again'
  readonly name: string
  readonly status: number
  readonly says: string
  readonly reads: readonly number[]
  readonly sound: string
  readonly left: readonly string[]
  readonly rowsWithoutFile: number
  readonly oldIsAsItWas: boolean
  readonly made: boolean
  readonly names: readonly string[]
}

const folder = mkdtempSync(join(tmpdir(), 'full-'))
const mounted = (command: string) =>
  spawnSync('unshare', ['-m', 'sh', '-c', `mount -t tmpfs -o size=3m tmpfs '${folder}' && ${command}`], { encoding: 'utf8' })
const tried = mounted('true')
const cannot = tried.error?.message ?? (tried.status === 0 ? null : tried.stderr.trim())

describe('R4, R9: the disk is full', () => {
  test('every kind of write is refused in plain words, nothing is left of it, reading goes on, and with room it is done', (context) => {
    if (cannot !== null) {
      rmdirSync(folder)
      return context.skip(`no small file system can be mounted here (${cannot}); the page limit of the database is tried elsewhere`)
    }
    const ran = mounted(`exec '${process.execPath}' --import tsx tests/running/full-disk.ts '${folder}'`)
    rmdirSync(folder)
    expect([ran.status, ran.stderr]).toEqual([0, ''])
    const steps = ran.stdout
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line) as Step)
    const of = (when: Step['when']) => steps.filter((step) => step.when === when)
    const names = ['insert', 'upload', 'thumbnail', 'backup', 'session write', 'migration']
    for (const when of ['full', 'room again'] as const) {
      expect(of(when).map(({ name }) => name)).toEqual(names)
      for (const step of of(when)) {
        const { reads, sound, left, rowsWithoutFile } = step
        expect({ reads, sound, left, rowsWithoutFile }, `${when}: ${step.name}`).toEqual({
          reads: [200, 200],
          sound: 'ok',
          left: [],
          rowsWithoutFile: 0,
        })
      }
    }
    const full = (name: string) => of('full').find((step) => step.name === name) as Step
    for (const name of ['insert', 'upload', 'session write']) {
      expect(full(name).status, name).toBe(507)
      expect(full(name).says, name).toContain('The disk is full: nothing was saved')
    }
    expect([full('thumbnail').status, full('thumbnail').says.includes('The disk is full')]).toEqual([507, true])
    expect(full('backup').says).toMatch(/not enough room for a backup|disk is full/)
    expect(full('migration').says).toMatch(/no room on the disk|MB free/)
    expect(full('migration').oldIsAsItWas).toBe(true)
    for (const step of of('room again')) expect([200, 201, 303], step.name).toContain(step.status)
    const cut = of('cut short')
    expect(cut).toHaveLength(20)
    expect([cut.some(({ made }) => !made), cut.some(({ made }) => made)]).toEqual([true, true])
    // Under its final name only if it was told as made.
    for (const step of cut) expect(step.names.filter((name) => !name.startsWith('.')).length, step.name).toBe(step.made ? 1 : 0)
  }, 180_000)
})
