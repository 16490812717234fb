/** Gives up on whoever sends a request, or takes an answer, too slowly for it ever to arrive. A large file over a poor link may take its time. */
import type { FastifyRequest } from 'fastify'
import plugin from 'fastify-plugin'

/** A thousand bytes a second are a fiftieth of a poor phone link, and more than a sender who only means to hold the line. */
const WINDOW_ms = 30_000
const LEAST_bytes = 30_000
/** What is sent goes in pieces of some hundred thousand bytes at times: over a poor link one of them takes minutes. */
const TAKEN_ms = 5 * 60_000
/**
 * In each such time, while something waits to be taken: 4000 bytes a second. A poor phone link takes twelve times that, an archive of a
 * gigabyte in six hours. Who takes a little now and then, only to hold connection and file, is let go: the same gigabyte ends in three days.
 */
const LEAST_taken_bytes = 1_200_000

type Options = {
  readonly window_ms?: number
  readonly least_bytes?: number
  readonly taken_ms?: number
  readonly least_taken_bytes?: number
}

export const pace = plugin<Options>(async (app, options) => {
  const { window_ms = WINDOW_ms, least_bytes = LEAST_bytes, taken_ms = TAKEN_ms, least_taken_bytes = LEAST_taken_bytes } = options
  app.addHook('onRequest', async (request, reply) => {
    if (!isArriving(request)) return
    const { socket } = request.raw
    let before = socket.bytesRead
    // On past an answer that was given before all had come: what is still to come is read, and holds the line as before.
    const watch = setInterval(() => {
      if (!isArriving(request)) return clearInterval(watch)
      const slow = socket.bytesRead - before < least_bytes
      before = socket.bytesRead
      if (!slow) return
      clearInterval(watch)
      request.log.warn('a request came too slowly')
      if (!reply.raw.headersSent) socket.write('HTTP/1.1 408 Request Timeout\r\nConnection: close\r\n\r\n')
      socket.destroy()
    }, window_ms)
    watch.unref()
    reply.raw.once('close', () => {
      if (!isArriving(request)) clearInterval(watch)
    })
  })
  app.addHook('onSend', async (request, reply) => {
    const { socket } = request.raw
    if (typeof socket?.bytesWritten !== 'number') return
    let before = { taken: 0, isWaiting: false }
    const watch = setInterval(() => {
      const now = { taken: socket.bytesWritten - socket.writableLength, isWaiting: socket.writableLength > 0 }
      // Nothing waits to be taken, or did not when this time began: then it is we who are slow.
      const isStuck = before.isWaiting && now.isWaiting && now.taken - before.taken < least_taken_bytes
      before = now
      if (!isStuck) return
      clearInterval(watch)
      request.log.warn('an answer was taken too slowly, or not at all')
      socket.destroy()
    }, taken_ms)
    watch.unref()
    reply.raw.once('close', () => clearInterval(watch))
  })
})

/** Whether more of it is to come, over a real connection. */
function isArriving({ raw }: FastifyRequest): boolean {
  const hasBody = raw.headers['content-length'] !== undefined || raw.headers['transfer-encoding'] !== undefined
  return hasBody && !raw.complete && typeof raw.socket?.bytesRead === 'number' && !raw.socket.destroyed
}
