/** How many may be connected at once: each takes memory and a descriptor, whatever it sends, and who has no account can open any number. */
import plugin from 'fastify-plugin'

/** A browser opens six at most: some eighty of them at once. */
export const MOST_connections = 512
const NOTED_every_ms = 60_000

export const connections = plugin<{ readonly most: number }>(async (app, { most }) => {
  app.server.maxConnections = most
  let noted_ms = Number.NEGATIVE_INFINITY
  // The server closes it before a byte of it is read; that would be known nowhere else.
  app.server.on('drop', () => {
    if (performance.now() - noted_ms < NOTED_every_ms) return
    noted_ms = performance.now()
    app.log.warn({ most }, 'connections are turned away: as many are open as may be')
  })
})
