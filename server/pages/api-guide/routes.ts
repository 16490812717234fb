import type { FastifyInstance } from 'fastify'
import { absolute } from '../../web/site.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/api-guide', async (request, reply) => {
    const facts = view({ document: app.apiDocument(), address: absolute(request, '') })
    return reply.page('api-guide/show', facts, { title: 'What programs can ask for', section: 'settings' })
  })

  app.get('/api-guide/openapi.json', async (_request, reply) =>
    reply.header('cache-control', 'no-store').type('application/json').send(JSON.stringify(app.apiDocument())),
  )
}
