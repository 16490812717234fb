/**
 * Pages are made one at a time, and whatever has come in meanwhile goes before the next: a save waits for one page at most, however many
 * people are looking. Making a page holds the only thread there is; without turns all that came in together would be made in one go.
 */
import plugin from 'fastify-plugin'

export const turns = plugin(async (app) => {
  const waiting: (() => void)[] = []
  let isTaken = false
  const next = () => {
    const begin = waiting.shift()
    isTaken = begin !== undefined
    if (!begin) return
    // The loop comes round to what has arrived before it comes back here.
    setImmediate(next)
    begin()
  }
  app.addHook('onRequest', async ({ method }) => {
    if (method !== 'GET' && method !== 'HEAD') return
    if (isTaken) return new Promise<void>((begin) => waiting.push(begin))
    isTaken = true
    setImmediate(next)
  })
})
