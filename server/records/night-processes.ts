/**
 * A night's long work in a process of its own: whoever asks for a page meanwhile does not wait for it and goes before it, all the memory
 * it took is given back when it ends, and a stop need not wait for a piece of work that cannot be interrupted.
 */
import { type ChildProcess, fork } from 'node:child_process'
import { writeFileSync } from 'node:fs'
import { setPriority } from 'node:os'
import { setTimeout } from 'node:timers/promises'
import { fileURLToPath } from 'node:url'
import type { Db } from './database.ts'
import type { nightTasks } from './night-tasks.ts'

type Tasks = typeof nightTasks
type Asked<Name extends keyof Tasks> = Parameters<Tasks[Name]>[0]
type Answer<Name extends keyof Tasks> = Awaited<ReturnType<Tasks[Name]>>
/** A fault in words: those of the database would not come through as they are. */
export type Told<Name extends keyof Tasks> = { readonly answer: Answer<Name> } | { readonly fault: string }

/** A stop came before it had ended: nothing is known of what it found. */
export class CutOff extends Error {}

/** Half of what the image gives the server: what it makes is looked at once and let go. Three such spaces are kept. */
const YOUNG_MB = 4
/** Below whoever serves pages: nice(1). */
const PRIORITY = 10
/**
 * Where memory runs out, the night's work is ended before the one who serves pages, who may hold more than it: each thousandth weighs as
 * much as a thousandth of what the group may take, so all of them do (proc_pid_oom_score_adj(5)).
 */
const ENDED_FIRST = '1000'
/** Ended, but held by a disk that does not answer: a stop does not wait for that. */
const ENDS_WITHIN_ms = 2000
const running = new WeakMap<Db, Set<ChildProcess>>()
const stopped = new WeakSet<Db>()

/** One process for one task. Rejects in words, with the task's own where it had any, or with `CutOff`. */
export function inNightProcess<Name extends keyof Tasks>(db: Db, name: Name, asked: Asked<Name>): Promise<Answer<Name>> {
  if (stopped.has(db)) return Promise.reject(new CutOff('Nothing is begun any more.'))
  const own = running.get(db) ?? new Set()
  running.set(db, own)
  return new Promise((resolve, reject) => {
    const child = fork(fileURLToPath(new URL('./night-process.mjs', import.meta.url)), {
      execArgv: [`--max-semi-space-size=${YOUNG_MB}`, ...ownGrowth(process.execArgv)],
      env: withoutSettings(process.env),
      stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
    })
    let told: Told<Name> | undefined
    child.once('message', (said: Told<Name>) => {
      told = said
      if (child.connected) child.disconnect()
    })
    // It could not be started, or cannot be spoken to; there may be more than one of these.
    child.on('error', (fault) => {
      reject(fault)
      if (child.pid !== undefined) child.kill('SIGKILL')
    })
    child.once('exit', (status, signal) => {
      own.delete(child)
      if (told && 'answer' in told) resolve(told.answer)
      else if (told) reject(new Error(told.fault))
      // After a fault this is without effect.
      else reject(stopped.has(db) ? new CutOff('The work was cut short.') : new Error(`It ended without an answer (${signal ?? status}).`))
    })
    if (child.pid === undefined) return
    own.add(child)
    giveWay(child.pid)
    child.send({ name, asked })
  })
}

/** The first thing of a stop: nobody waits for what is begun anew at the next start. Before the database is closed, for good. */
export async function stopNightProcesses(db: Db): Promise<void> {
  stopped.add(db)
  const ends = [...(running.get(db) ?? [])].map((child) => {
    const ended = new Promise<void>((resolve) => child.once('exit', () => resolve()))
    child.kill('SIGKILL')
    return ended
  })
  await Promise.race([Promise.all(ends), setTimeout(ENDS_WITHIN_ms, undefined, { ref: false })])
}

/** Settings of ours, some of them secret, are not handed on: what it needs of them it is told. */
function withoutSettings(env: NodeJS.ProcessEnv): NodeJS.ProcessEnv {
  return Object.fromEntries(Object.entries(env).filter(([name]) => !name.startsWith('LOOMBOOK_')))
}

/** How slowly the server lets its memory grow is for the one beside it too. Not said where the server was not told: it is V8's own flag. */
function ownGrowth(flags: readonly string[]): readonly string[] {
  return flags.filter((flag) => flag.startsWith('--heap-growing-percent='))
}

/** Where the machine does not allow it, the work is done all the same. */
function giveWay(process_id: number): void {
  for (const way of [() => setPriority(process_id, PRIORITY), () => writeFileSync(`/proc/${process_id}/oom_score_adj`, ENDED_FIRST)])
    try {
      way()
    } catch {
      // Nothing depends on it.
    }
}
