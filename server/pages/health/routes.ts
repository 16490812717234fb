import type { FastifyInstance } from 'fastify'

export function register(app: FastifyInstance): void {
  app.get('/healthz', async (_request, reply) => reply.type('text/plain').send('ok\n'))
}
