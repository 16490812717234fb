/** The night's long work in a process of its own: it does what it is to do, others are answered meanwhile, and what it meets is told. */
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { getPriority, tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { listBackups, verifyBackup } from '../../server/records/backup.ts'
import { fixedClock } from '../../server/records/clock.ts'
import { closeDatabase, type Db, openDatabase } from '../../server/records/database.ts'
import { type Job, jobsOf, runDue, runNow } from '../../server/records/jobs.ts'
import { createOwner } from '../../server/records/people.ts'
import { readOnlyBecause } from '../../server/records/sanity.ts'
import { standingJobs } from '../../server/records/standing-jobs.ts'
import { inNightProcess, stopNightProcesses } from '../../server/records/night-processes.ts'
import { createVehicle } from '../../server/records/vehicles.ts'

const clock = fixedClock('2026-11-27T12:00:00Z')
let data: string
let backups: string
let db: Db

beforeEach(() => {
  data = mkdtempSync(join(tmpdir(), 'loombook-night-'))
  backups = join(data, 'backups')
  db = openDatabase(join(data, 'loombook.sqlite'))
  const owner = createOwner(db, clock, { name: 'Ada', password: 'a long enough word' })
  if (!owner.ok) throw new Error(owner.refusals[0]?.sentence)
  const vehicle = createVehicle(db, clock, owner.value, { name: 'Bramble', systemVoltage_V: 12 })
  if (!vehicle.ok) throw new Error(vehicle.refusals[0]?.sentence)
})
afterEach(() => {
  closeDatabase(db)
  rmSync(data, { recursive: true, force: true })
})

/** Of the processes that a process started, those that do a night's work: field 4 of proc_pid_stat(5). */
function childrenOf(parent: number): readonly number[] {
  const read = (path: string) => {
    try {
      return readFileSync(path, 'utf8')
    } catch {
      return ''
    }
  }
  return readdirSync('/proc')
    .map(Number)
    .filter(
      (id) =>
        Number(
          read(`/proc/${id}/stat`)
            .replace(/^.*\) /, '')
            .split(' ')[1],
        ) === parent,
    )
    .filter((id) => read(`/proc/${id}/cmdline`).includes('night-process'))
}
const reopen = () => {
  closeDatabase(db)
  db = openDatabase(join(data, 'loombook.sqlite'))
}
const job = (name: string) => standingJobs({ db, clock, data, backups }).find((one) => one.name === name) as Job
const run = (name: string) => runDue(db, clock, [job(name)], 'UTC')
const facts = (name: string) => jobsOf(db).find((one) => one.name === name)

test('a backup that another process made is whole, and the job says what it holds', async () => {
  await run('backup')
  expect(facts('backup')).toMatchObject({
    result: 'done',
    says: expect.stringMatching(/^2026-11-27T12-00-00-000Z: .* MB, 0 entries, 0 photos/),
  })
  const [made] = await listBackups(backups)
  expect(made?.contents.rows.vehicles).toBe(1)
  expect(await verifyBackup(made?.folder ?? '')).toEqual([])
})

test('others have their turn while another process is at work, which gives way to them and is told no setting', async () => {
  process.env.LOOMBOOK_TRIED = 'a secret'
  let turns = 0
  let isDone = false
  const looked = inNightProcess(db, 'look', { file: db.$client.name, data, now: clock.now().toISOString() }).finally(() => {
    isDone = true
  })
  delete process.env.LOOMBOOK_TRIED
  const [child] = childrenOf(process.pid)
  expect([getPriority(child), readFileSync(`/proc/${child}/oom_score_adj`, 'utf8').trim()]).toEqual([10, '500'])
  expect(readFileSync(`/proc/${child}/environ`, 'utf8')).not.toContain('LOOMBOOK_')
  while (!isDone) {
    await wait(1)
    turns++
  }
  expect(await looked).toEqual({ records: [], photos: [], moved: 0 })
  expect(turns).toBeGreaterThan(5)
  expect(childrenOf(process.pid)).toEqual([])
})

test('a row that was altered is found by the other process, and shuts the house for writing', async () => {
  db.$client.exec("UPDATE vehicles SET name = 'Bromble'")
  await run('sanity')
  expect(facts('sanity')).toMatchObject({ result: 'failed', says: expect.stringContaining('of vehicles is not as it was written') })
})

test('a fault of the other process is the job’s fault, in its own words', async () => {
  mkdirSync(backups)
  rmSync(backups, { recursive: true })
  writeFileSync(backups, 'a file where a folder should be')
  await run('backup')
  expect(facts('backup')).toMatchObject({ result: 'failed', says: expect.stringContaining('EEXIST') })
})

test('a fault of the database, and one that nobody throws, come through in words', async () => {
  const asked = { file: join(data, 'nowhere.sqlite'), data, now: clock.now().toISOString(), folder: backups }
  await expect(inNightProcess(db, 'backup', asked)).rejects.toThrow('unable to open database file')
  const working = inNightProcess(db, 'backup', { ...asked, file: db.$client.name })
  const [child] = childrenOf(process.pid)
  process.kill(child as number, 'SIGKILL')
  await expect(working).rejects.toThrow('It ended without an answer (SIGKILL).')
})

test('a job that a stop cuts off is not over, and no other is begun: both are at the next start', async () => {
  const running = runDue(db, clock, [job('backup'), job('sanity')], 'UTC')
  await stopNightProcesses(db)
  await running
  expect(facts('backup')).toMatchObject({ endedAt: null, result: null })
  expect(facts('sanity')).toBeUndefined()
  reopen()
  await runDue(db, clock, [job('backup'), job('sanity')], 'UTC')
  expect([facts('backup')?.result, facts('sanity')?.result]).toEqual(['done', 'done'])
})

test('damage that is known stays known where the next look is cut off', async () => {
  db.$client.exec("UPDATE vehicles SET name = 'Bromble'")
  await run('sanity')
  reopen()
  expect(readOnlyBecause(db)).toContain('not as it was written')
  const looking = runNow(db, clock, job('sanity'))
  expect(readOnlyBecause(db)).toContain('not as it was written')
  await stopNightProcesses(db)
  expect(await looking).toBe(false)
  reopen()
  expect(readOnlyBecause(db)).toContain('not as it was written')
})
