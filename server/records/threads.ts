/** A night's long work in a thread of its own, so that whoever asks for a page meanwhile does not wait for it. */
import { Worker } from 'node:worker_threads'
import type { Db } from './database.ts'
import type { nightTasks } from './night-tasks.ts'

type Tasks = typeof nightTasks
type Asked<Name extends keyof Tasks> = Parameters<Tasks[Name]>[0]
type Answer<Name extends keyof Tasks> = Awaited<ReturnType<Tasks[Name]>>

/** A stop came before it had ended: nothing is known of what it found. */
export class CutOff extends Error {}

/** Three half-spaces of 8 MB, as the image gives the server; what a thread may hold of old objects is left to V8. */
const YOUNG_MB = 24
const running = new WeakMap<Db, Set<Worker>>()
const stopped = new WeakSet<Db>()

/** One thread for one task: what it held is given back when it ends. Rejects with what the task throws, or with `CutOff`. */
export function inThread<Name extends keyof Tasks>(db: Db, name: Name, asked: Asked<Name>): Promise<Answer<Name>> {
  if (stopped.has(db)) return Promise.reject(new CutOff('Nothing is begun any more.'))
  const own = running.get(db) ?? new Set()
  running.set(db, own)
  return new Promise((resolve, reject) => {
    const thread = new Worker(new URL('./thread.mjs', import.meta.url), {
      execArgv: [],
      workerData: { name, asked },
      resourceLimits: { maxYoungGenerationSizeMb: YOUNG_MB },
    })
    own.add(thread)
    thread.unref()
    thread.once('message', resolve)
    thread.once('error', reject)
    thread.once('exit', () => {
      own.delete(thread)
      // After an answer or a fault this is without effect.
      reject(stopped.has(db) ? new CutOff('The work was cut short.') : new Error('The thread ended without an answer.'))
    })
  })
}

/** Before the database is closed, for good. What is asked of it in one piece is waited for. */
export async function stopThreads(db: Db): Promise<void> {
  stopped.add(db)
  await Promise.all([...(running.get(db) ?? [])].map((thread) => thread.terminate()))
}
