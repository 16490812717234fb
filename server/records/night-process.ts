/** In a process of its own: does the one task that it is told, answers, and ends. */
import type { Told } from './night-processes.ts'
import { nightTasks } from './night-tasks.ts'

type Task = { readonly name: keyof typeof nightTasks; readonly asked: never }

// A stop is told to the one who started this, who ends it; where that one is gone, nobody waits for the answer.
for (const signal of ['SIGTERM', 'SIGINT'] as const) process.on(signal, () => {})
process.once('disconnect', () => process.exit(1))
process.once('message', async ({ name, asked }: Task) => {
  process.send?.(await toldOf(name, asked), () => process.exit(0))
})

async function toldOf(name: Task['name'], asked: never): Promise<Told<Task['name']>> {
  try {
    return { answer: await nightTasks[name](asked) }
  } catch (fault) {
    return { fault: fault as Error }
  }
}
