import type { FastifyInstance } from 'fastify'
import { type SearchKind, search, searchKinds } from '../../records/search.ts'
import { vehicleNames } from '../../records/vehicles.ts'
import { pageAsked } from '../shared/paging.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/search', async (request, reply) => {
    const query = request.query as Record<string, unknown>
    const asked = typeof query.q === 'string' ? query.q.trim() : ''
    const vehicles = vehicleNames(app.db, request.actor)
    const vehicleId = vehicles.find((one) => one.id === query.vehicle)?.id
    const kind = searchKinds.find((one): one is SearchKind => one === query.kind)
    const found = search(app.db, request.actor, { asked, vehicleId, kind, page: pageAsked(query.page) })
    const facts = view({ asked, vehicleId: vehicleId ?? '', kind: kind ?? '', vehicles, found })
    return reply.page('search/show', facts, { title: 'Search', section: 'search' })
  })
}
