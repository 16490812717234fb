/** In the thread: does the one task it was started for, and ends. */
import { parentPort, workerData } from 'node:worker_threads'
import { nightTasks } from './night-tasks.ts'

const { name, asked } = workerData as { readonly name: keyof typeof nightTasks; readonly asked: never }
parentPort?.postMessage(await nightTasks[name](asked))
