/**
 * The night's long work in a process of its own: it does what it is to do, others are answered meanwhile, and what it meets is told. What the
 * processes are seen to do is read from proc(5), so these tests are for Linux.
 */
import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { getPriority, tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { listBackups, verifyBackup } from '../../server/records/backup.ts'
import { fixedClock } from '../../server/records/clock.ts'
import { closeDatabase, type Db, openDatabase } from '../../server/records/database.ts'
import { type Job, jobsOf, runDue, runNow } from '../../server/records/jobs.ts'
import { inNightProcess, stopNightProcesses } from '../../server/records/night-processes.ts'
import { createOwner } from '../../server/records/people.ts'
import { readOnlyBecause } from '../../server/records/sanity.ts'
import { standingJobs } from '../../server/records/standing-jobs.ts'
import { createVehicle } from '../../server/records/vehicles.ts'
import { type BookOnDisk, bookOnDisk } from './backup-book.ts'
import { holdsPhotos } from './night-parent.ts'

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

const reopen = () => {
  closeDatabase(db)
  db = openDatabase(join(data, 'loombook.sqlite'))
}
const job = (name: string) => standingJobs({ db, clock, data, backups }).find((one) => one.name === name) as Job
const run = (name: string) => runDue(db, clock, [job(name)], 'UTC')
const facts = (name: string) => jobsOf(db).find((one) => one.name === name)
const child = () => childrenOf(process.pid)[0] as number

/** Of the processes that a process started, those that do a night's work: field 4 of proc_pid_stat(5). */
function childrenOf(parent: number): readonly number[] {
  const parentOf = (id: number) =>
    Number(
      seen(id, 'stat')
        .replace(/^.*\) /, '')
        .split(' ')[1],
    )
  return readdirSync('/proc')
    .map(Number)
    .filter((id) => parentOf(id) === parent && seen(id, 'cmdline').includes('night-process'))
}

/** Empty where there is no such process any more. */
function seen(id: number, what: string): string {
  try {
    return readFileSync(`/proc/${id}/${what}`, 'utf8')
  } catch {
    return ''
  }
}

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
  expect([getPriority(child()), seen(child(), 'oom_score_adj').trim()]).toEqual([10, '1000'])
  expect(seen(child(), 'environ')).toContain('PATH=')
  expect(seen(child(), 'environ')).not.toContain('LOOMBOOK_')
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
  expect(facts('backup')).toMatchObject({ result: 'failed', says: expect.stringContaining('ENOTDIR') })
})

test('a fault of the database, and one that nobody throws, come through in words', async () => {
  const asked = { file: join(data, 'nowhere.sqlite'), data, now: clock.now().toISOString(), folder: backups }
  await expect(inNightProcess(db, 'backup', asked)).rejects.toThrow('unable to open database file')
  const working = inNightProcess(db, 'backup', { ...asked, file: db.$client.name })
  process.kill(child(), 'SIGKILL')
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

test('damage that is known stays known where the process of the next look is killed, also after the next start', async () => {
  db.$client.exec("UPDATE vehicles SET name = 'Bromble'")
  await run('sanity')
  for (const night of [1, 2]) {
    reopen()
    const looking = runNow(db, clock, job('sanity'))
    process.kill(child(), 'SIGKILL')
    expect(await looking).toBe(true)
    expect(facts('sanity')?.says, `night ${night}`).toMatch(
      /^Records: .*is not as it was written\. Another look could not be made: It ended without an answer \(SIGKILL\)\.$/,
    )
  }
  reopen()
  expect(readOnlyBecause(db)).toContain('not as it was written')
  // A look that is made and finds nothing ends it.
  db.$client.exec("UPDATE vehicles SET name = 'Bramble'")
  await runNow(db, clock, job('sanity'))
  expect(readOnlyBecause(db)).toBe(null)
})

test('what a killed backup leaves is swept before the next is made, and what is kept before a restore is not touched', async () => {
  const [left, dropping] = ['.making-2026-11-26T03-00-00-000Z', '.dropping-2026-10-26T03-00-00-000Z']
  const present = '.making-2026-11-27T12-00-00-000Z-before-restore'
  for (const name of [left, dropping, present]) mkdirSync(join(backups, name), { recursive: true })
  await runNow(db, clock, job('backup'))
  expect(facts('backup')?.result).toBe('done')
  expect(readdirSync(backups).sort()).toEqual([present, '2026-11-27T12-00-00-000Z'])
})

describe('at work on many photos', () => {
  let book: BookOnDisk
  let folder: string
  beforeEach(() => {
    book = bookOnDisk(Array.from({ length: 500 }, (_, n) => `photo ${n}`))
    folder = join(book.data, 'kept')
  })
  afterEach(() => {
    closeDatabase(book.db)
    rmSync(book.data, { recursive: true, force: true })
  })

  test('a stop that the whole group is told of is left to the one who asked: the work is ended by that one alone', async () => {
    const working = inNightProcess(book.db, 'backup', { file: book.file, data: book.data, now: clock.now().toISOString(), folder })
    const id = child()
    while (!holdsPhotos(folder)) await wait(1)
    process.kill(id, 'SIGTERM')
    process.kill(id, 'SIGINT')
    expect(await working).toContain('500 photos')
  })

  test('where the one who asked is gone, it is let go', async () => {
    const parent = spawn(process.execPath, ['--import', 'tsx', 'tests/records/night-parent.ts', book.file, book.data, folder])
    await once(parent.stdout, 'data')
    const [id] = childrenOf(parent.pid as number)
    parent.kill('SIGKILL')
    while (seen(id as number, 'cmdline') !== '') await wait(5)
    expect(await listBackups(folder)).toEqual([])
  })
})
