import type { FastifyInstance } from 'fastify'
import { restorePhoto, trashOf } from '../../records/trash.ts'
import { NotFound } from '../../web/error-pages.ts'
import { pageAsked, type Span, spanOf } from '../shared/paging.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/trash', async (request, reply) => {
    // Two lists, each turned over by itself: the other one stays where it is.
    const { page, photos } = request.query as Record<string, unknown>
    const address = (of: { readonly page?: number; readonly photos?: number }) =>
      `/trash?page=${of.page ?? pageAsked(page)}&photos=${of.photos ?? pageAsked(photos)}`
    const spans = {
      entries: (count: number): Span =>
        spanOf(count, { asked: page, things: ['withdrawn entry', 'withdrawn entries'], address: (to) => address({ page: to }) }),
      photos: (count: number): Span =>
        spanOf(count, { asked: photos, things: ['photo', 'photos'], address: (to) => address({ photos: to }) }),
    }
    const trash = trashOf(app.db, app.clock, request.actor, spans)
    const shown = { trash, entries: spans.entries(trash.entryCount), photos: spans.photos(trash.photoCount) }
    return reply.page('trash/show', view(shown, app.config.timeZone), {
      ...{ title: 'Trash', section: 'vehicles' },
      trail: [{ href: '/', label: 'Vehicles' }],
    })
  })

  app.post('/trash/photos/:id/restorations', async (request, reply) => {
    const done = restorePhoto(app.db, request.actor, (request.params as { id: string }).id)
    if (!done.ok) throw new NotFound('There is no such photo here.')
    return reply.redirect('/trash', 303)
  })
}
