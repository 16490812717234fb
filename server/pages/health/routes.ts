/** For machines that watch: the process runs; it can take a save. Nobody signs in for it, so nothing is told but yes or no. */
import type { FastifyInstance } from 'fastify'
import { unready } from '../../records/readiness.ts'

/** Anybody may ask as often as they like; the disk is looked at this often at most. */
const KEPT_ms = 2000

export function register(app: FastifyInstance): void {
  let asked = { at_ms: Number.NEGATIVE_INFINITY, answer: Promise.resolve(null as string | null) }

  app.get('/healthz', async (_request, reply) => reply.type('text/plain; charset=utf-8').send('ok\n'))

  app.get('/readyz', async (request, reply) => {
    const now_ms = performance.now()
    if (now_ms - asked.at_ms > KEPT_ms) asked = { at_ms: now_ms, answer: unready(app.db, app.config.data) }
    const reason = await asked.answer
    if (reason !== null) request.log.warn({ reason }, 'not ready')
    return reply
      .status(reason === null ? 200 : 503)
      .type('text/plain; charset=utf-8')
      .send(reason === null ? 'ready\n' : 'not ready\n')
  })
}
