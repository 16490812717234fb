/** The end of a server: what is on its way may finish, what is too slow is told so, and nobody waits longer than the grace. */
import type { Socket } from 'node:net'
import type { FastifyReply, FastifyRequest } from 'fastify'
import plugin from 'fastify-plugin'

/** A service manager commonly kills ten seconds after it has asked. */
export const GRACE_ms = 7000
const TOLD = 'HTTP/1.1 503 Service Unavailable\r\nConnection: close\r\nRetry-After: 10\r\nContent-Length: 0\r\n\r\n'

declare module 'fastify' {
  interface FastifyInstance {
    /** Closes the door at once and everything behind it within the grace. */
    stop(grace_ms?: number): Promise<void>
  }
}

export const stopping = plugin(async (app) => {
  const open = new Map<FastifyRequest, FastifyReply>()
  app.addHook('onRequest', async (request, reply) => {
    open.set(request, reply)
    reply.raw.once('close', () => open.delete(request))
  })
  app.decorate('stop', async (grace_ms = GRACE_ms) => {
    const cut = setTimeout(() => {
      for (const [request, reply] of open) turnAway(request.raw.socket, reply)
      app.server.closeAllConnections()
    }, grace_ms)
    await app.close()
    clearTimeout(cut)
  })
})

/** Whose request has not come in whole by now is told that it was not taken. */
function turnAway(socket: Socket, reply: FastifyReply): void {
  if (!reply.raw.headersSent && socket.writable) socket.end(TOLD)
  socket.destroySoon()
}
