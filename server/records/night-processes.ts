/**
 * A night's long work in a process of its own: whoever asks for a page meanwhile does not wait for it and goes before it, all the memory
 * it took is given back when it ends, and a stop need not wait for a piece of work that cannot be interrupted.
 */
import { type ChildProcess, fork } from 'node:child_process'
import { setPriority } from 'node:os'
import { fileURLToPath } from 'node:url'
import type { Db } from './database.ts'
import type { nightTasks } from './night-tasks.ts'

type Tasks = typeof nightTasks
type Asked<Name extends keyof Tasks> = Parameters<Tasks[Name]>[0]
type Answer<Name extends keyof Tasks> = Awaited<ReturnType<Tasks[Name]>>
export type Told<Name extends keyof Tasks> = { readonly answer: Answer<Name> } | { readonly fault: Error }

/** A stop came before it had ended: nothing is known of what it found. */
export class CutOff extends Error {}

/** As the image gives the server. */
const FLAGS = ['--max-semi-space-size=8']
/** Below whoever serves pages: nice(1). */
const PRIORITY = 10
const running = new WeakMap<Db, Set<ChildProcess>>()
const stopped = new WeakSet<Db>()

/** One process for one task. Rejects with what the task throws, or with `CutOff`. */
export function inNightProcess<Name extends keyof Tasks>(db: Db, name: Name, asked: Asked<Name>): Promise<Answer<Name>> {
  if (stopped.has(db)) return Promise.reject(new CutOff('Nothing is begun any more.'))
  const own = running.get(db) ?? new Set()
  running.set(db, own)
  return new Promise((resolve, reject) => {
    const child = fork(fileURLToPath(new URL('./night-process.mjs', import.meta.url)), {
      ...{ execArgv: FLAGS, env: withoutSettings(process.env), serialization: 'advanced' },
      stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
    })
    own.add(child)
    child.unref()
    child.channel?.unref()
    child.once('message', (told: Told<Name>) => {
      if ('fault' in told) reject(told.fault)
      else resolve(told.answer)
    })
    child.once('error', (fault) => {
      own.delete(child)
      reject(fault)
    })
    child.once('exit', (status, signal) => {
      own.delete(child)
      // After an answer or a fault this is without effect.
      reject(stopped.has(db) ? new CutOff('The work was cut short.') : new Error(`The work ended without an answer (${signal ?? status}).`))
    })
    if (child.pid === undefined) return
    giveWay(child.pid)
    child.send({ name, asked })
  })
}

/** Before the database is closed, for good. */
export async function stopNightProcesses(db: Db): Promise<void> {
  stopped.add(db)
  const ends = [...(running.get(db) ?? [])].map((child) => {
    const ended = new Promise<void>((resolve) => child.once('exit', () => resolve()))
    child.ref()
    child.kill('SIGKILL')
    return ended
  })
  await Promise.all(ends)
}

/** What it is to do is all that it is told: no setting, and with them no secret. */
function withoutSettings(env: NodeJS.ProcessEnv): NodeJS.ProcessEnv {
  return Object.fromEntries(Object.entries(env).filter(([name]) => !name.startsWith('LOOMBOOK_')))
}

/** Where the machine does not allow it, the work is done all the same. */
function giveWay(process_id: number): void {
  try {
    setPriority(process_id, PRIORITY)
  } catch {
    // Nothing depends on it.
  }
}
