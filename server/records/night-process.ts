/** In a process of its own: does the one task that it is told, answers, and ends when it is let go. */
import type { Told } from './night-processes.ts'
import { nightTasks } from './night-tasks.ts'

type Task = { readonly name: keyof typeof nightTasks; readonly asked: never }

// A stop is told to the one who started this, who ends it.
for (const signal of ['SIGTERM', 'SIGINT'] as const) process.on(signal, () => {})
// The answer is there, or the one who waited for it is gone.
process.once('disconnect', () => process.exit())
process.once('message', async ({ name, asked }: Task) => {
  process.send?.(await toldOf(name, asked))
})

async function toldOf(name: Task['name'], asked: never): Promise<Told<Task['name']>> {
  try {
    return { answer: await nightTasks[name](asked) }
  } catch (fault) {
    return { fault: fault instanceof Error ? fault.message : String(fault) }
  }
}
