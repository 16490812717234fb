/** Layouts, worked out in a thread of their own: a large one takes most of a second, in which the server goes on answering. */
import { Worker } from 'node:worker_threads'
import type { ElkNode } from 'elkjs'

export type Layouts = {
  /** the graphs with their places, in the same order */
  readonly place: (graphs: readonly ElkNode[]) => Promise<readonly ElkNode[]>
  readonly close: () => Promise<void>
}

type Answer = { readonly id: number; readonly placed?: readonly ElkNode[]; readonly fault?: string }
type Waiting = { readonly resolve: (placed: readonly ElkNode[]) => void; readonly reject: (error: Error) => void }

/** The thread starts with the first drawing, and does not keep the server from ending. */
export function startLayouts(): Layouts {
  const waiting = new Map<number, Waiting>()
  let thread: Worker | null = null
  let last = 0
  const fail = (failed: Worker, error: Error) => {
    if (thread === failed) thread = null
    for (const one of waiting.values()) one.reject(error)
    waiting.clear()
  }
  const start = () => {
    const made = new Worker(new URL('./layout-thread.mjs', import.meta.url), { execArgv: [] })
    made.unref()
    made.on('message', ({ id, placed, fault }: Answer) => {
      const one = waiting.get(id)
      waiting.delete(id)
      if (waiting.size === 0) made.unref()
      if (placed) one?.resolve(placed)
      else one?.reject(new Error(`The layout failed: ${fault}`))
    })
    made.on('error', (error) => fail(made, error))
    made.on('exit', () => fail(made, new Error('The layout was cut short.')))
    return made
  }
  return {
    place: (graphs) =>
      new Promise((resolve, reject) => {
        thread ??= start()
        last++
        waiting.set(last, { resolve, reject })
        thread.ref()
        thread.postMessage({ id: last, graphs })
      }),
    async close() {
      await thread?.terminate()
    },
  }
}
