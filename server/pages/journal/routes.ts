import type { FastifyInstance } from 'fastify'
import { journalList } from '../../records/journal-list.ts'
import { type Span, spanOf } from '../shared/paging.ts'
import { trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/journal', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const { contains, page } = request.query as Record<string, unknown>
    const sought = typeof contains === 'string' ? contains.trim().slice(0, 200) : ''
    const address = (to: number) =>
      `/vehicles/${vehicle.id}/journal?page=${to}${sought === '' ? '' : `&contains=${encodeURIComponent(sought)}`}`
    const range = (count: number): Span => spanOf(count, { asked: page, things: ['entry', 'entries'], address })
    const list = journalList(app.db, request.actor, vehicle.id, { contains: sought, range })
    return reply.page('journal/show', view({ vehicle, list, span: range(list.count), sought }), {
      ...{ title: `Journal of ${vehicle.name}`, heading: 'Journal', section: 'vehicles' },
      trail: trailOf(vehicle),
    })
  })
}
