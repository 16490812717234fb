/** The thread in which layouts are worked out. Plain JavaScript: a thread starts without what the server's sources are run by. */
import { parentPort } from 'node:worker_threads'
import ELK from 'elkjs/lib/elk.bundled.js'

const elk = new ELK()

parentPort.on('message', async ({ id, graphs }) => {
  try {
    const placed = []
    for (const graph of graphs) placed.push(await elk.layout(graph))
    parentPort.postMessage({ id, placed })
  } catch (error) {
    parentPort.postMessage({ id, fault: String(error) })
  }
})
