import type { FastifyInstance } from 'fastify'
import { restorePhoto, trashOf } from '../../records/trash.ts'
import { NotFound } from '../../web/error-pages.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/trash', async (request, reply) =>
    reply.page('trash/show', view(trashOf(app.db, app.clock, request.actor), app.config.timeZone), {
      ...{ title: 'Trash', section: 'vehicles' },
      trail: [{ href: '/', label: 'Vehicles' }],
    }),
  )

  app.post('/trash/photos/:id/restorations', async (request, reply) => {
    const done = restorePhoto(app.db, request.actor, (request.params as { id: string }).id)
    if (!done.ok) throw new NotFound('There is no such photo here.')
    return reply.redirect('/trash', 303)
  })
}
