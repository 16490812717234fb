/** A night's long work in a thread of its own, so that whoever asks for a page meanwhile does not wait for it. */
import { Worker } from 'node:worker_threads'
import type { Db } from './database.ts'
import type { nightTasks } from './night-tasks.ts'

type Tasks = typeof nightTasks
type Asked<Name extends keyof Tasks> = Parameters<Tasks[Name]>[0]
type Answer<Name extends keyof Tasks> = Awaited<ReturnType<Tasks[Name]>>

/** It was stopped before it had ended: nothing is known of what it found. */
export class CutOff extends Error {}

/** As the server itself is run by; what a thread may hold of old objects is left to V8. */
const YOUNG_MB = 8
const running = new WeakMap<Db, Set<Worker>>()

/** One thread for one task: what it held is given back when it ends. Rejects with what the task throws, or with `CutOff`. */
export function inThread<Name extends keyof Tasks>(db: Db, name: Name, asked: Asked<Name>): Promise<Answer<Name>> {
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
      reject(new CutOff('The work was cut short.'))
    })
  })
}

/** Before the database is closed. What is asked of it in one piece is waited for. */
export async function stopThreads(db: Db): Promise<void> {
  await Promise.all([...(running.get(db) ?? [])].map((thread) => thread.terminate()))
}
