/** What the installation does by itself: each job once an hour or once a night, its last run and result kept for the owner to read. */
import { eq } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import { today } from './clock.ts'
import { isDamage, noteDamage } from './damage.ts'
import type { Db } from './database.ts'
import { CutOff } from './night-processes.ts'
import { jobs } from './schema.ts'

export type Job = {
  readonly name: string
  readonly title: string
  readonly every: 'hour' | 'night'
  /** answers what it did, in one line; what it throws is kept as its failure */
  readonly run: () => Promise<string> | string
}
export type JobFacts = {
  readonly name: string
  readonly startedAt: string
  readonly endedAt: string | null
  readonly result: 'done' | 'failed' | null
  readonly says: string
  /** when it last ended well, whatever became of it since */
  readonly lastGoodAt: string | null
}

/** Nightly jobs run from this hour of the clock on the wall. */
const NIGHT_h = 3
/** A nightly job that has not succeeded for longer is late. */
export const STALE_ms = 36 * 3_600_000
/** A last run further ahead than this was on a wrong clock. */
const AHEAD_ms = 2 * 86_400_000
const running = new WeakMap<Db, Set<string>>()

/**
 * Runs what is due, one after another. Once in its period, whatever the clock does: an hour back or the year 1970 makes nothing run twice.
 * One that was begun and never ended (the process was killed, or it was cut off by a stop, which ends this too) is due again.
 */
export async function runDue(db: Db, clock: Clock, list: readonly Job[], timeZone: string): Promise<readonly string[]> {
  const ran: string[] = []
  for (const job of list)
    try {
      if (await runOne(db, clock, job, { timeZone, isAsked: false })) ran.push(job.name)
    } catch (fault) {
      if (fault instanceof CutOff) return ran
      // Its row could not be read or written: the disk is full, or the file is damaged. The others have their turn all the same.
      if (isDamage(fault)) noteDamage(db, `The row of the job “${job.title}” cannot be read or written.`)
    }
  return ran
}

/** Runs a job now, because somebody asked. False if it is running already, or a stop cut it off. */
export async function runNow(db: Db, clock: Clock, job: Job): Promise<boolean> {
  try {
    return await runOne(db, clock, job, { timeZone: 'UTC', isAsked: true })
  } catch (fault) {
    if (fault instanceof CutOff) return false
    throw fault
  }
}

export function jobsOf(db: Db): readonly JobFacts[] {
  return db.select().from(jobs).all()
}

export function lastGoodRun(db: Db, name: string): string | null {
  const row = db.select().from(jobs).where(eq(jobs.name, name)).get()
  return row?.result === 'done' ? row.endedAt : null
}

export function isStale(facts: JobFacts | undefined, now: Date): boolean {
  return facts?.result !== 'done' || facts.endedAt === null || now.getTime() - Date.parse(facts.endedAt) > STALE_ms
}

async function runOne(db: Db, clock: Clock, job: Job, how: { readonly timeZone: string; readonly isAsked: boolean }): Promise<boolean> {
  const mine = running.get(db) ?? new Set<string>()
  running.set(db, mine)
  const last = db.select().from(jobs).where(eq(jobs.name, job.name)).get()
  if (mine.has(job.name) || (!how.isAsked && !isDue(job, last, { clock, timeZone: how.timeZone }))) return false
  mine.add(job.name)
  const startedAt = clock.now().toISOString()
  const keep = (row: { endedAt: string | null; result: 'done' | 'failed' | null; says: string }) => {
    const all = { name: job.name, startedAt, ...row, ...(row.result === 'done' ? { lastGoodAt: row.endedAt } : {}) }
    db.insert(jobs).values(all).onConflictDoUpdate({ target: jobs.name, set: all }).run()
  }
  try {
    // What was wrong is known until a run has found otherwise, also where this one is cut off.
    keep({ endedAt: null, result: null, says: last && last.result !== 'done' ? last.says : '' })
    const says = await job.run()
    keep({ endedAt: clock.now().toISOString(), result: 'done', says: says.slice(0, 4000) })
  } catch (fault) {
    // Its row stays that of a job which never ended, so that it is begun anew at the next start.
    if (fault instanceof CutOff) throw fault
    keep({
      endedAt: clock.now().toISOString(),
      result: 'failed',
      says: (fault instanceof Error ? fault.message : String(fault)).slice(0, 4000),
    })
  } finally {
    mine.delete(job.name)
  }
  return true
}

function isDue(job: Job, last: JobFacts | undefined, at: { readonly clock: Clock; readonly timeZone: string }): boolean {
  if (!last || last.result === null) return true
  const now = at.clock.now()
  const started = new Date(last.startedAt)
  if (started.getTime() - now.getTime() > AHEAD_ms && now.getTime() > Date.parse('2020-01-01')) return true
  if (job.every === 'hour') return Math.floor(now.getTime() / 3_600_000) > Math.floor(started.getTime() / 3_600_000)
  return nightOf(now, at.timeZone) > nightOf(started, at.timeZone)
}

/** The day whose night it is: until three o'clock still the day before. */
function nightOf(instant: Date, timeZone: string): string {
  return today({ now: () => new Date(instant.getTime() - NIGHT_h * 3_600_000) }, timeZone)
}
