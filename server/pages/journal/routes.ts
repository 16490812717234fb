import type { FastifyInstance } from 'fastify'
import { entriesOf } from '../../records/journal.ts'
import { correctedEntries, lastSaveOf } from '../../records/versions.ts'
import { dayFrom, statusOf, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/journal', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const day = dayFrom(app, request)
    const { contains, page } = request.query as Record<string, unknown>
    const sought = typeof contains === 'string' ? contains.trim().slice(0, 200) : ''
    const entries = entriesOf(app.db, request.actor, vehicle.id, sought === '' ? {} : { contains: sought })
    const last = lastSaveOf(app.db, app.clock, request.actor, vehicle.id)
    const corrected = correctedEntries(app.db, request.actor, vehicle.id)
    return reply.page('journal/show', view({ vehicle, day, entries, sought, page, last, corrected }), {
      ...{ title: `Journal of ${vehicle.name}`, heading: 'Journal', section: 'vehicles' },
      status: statusOf(day),
      trail: trailOn(vehicle, day),
    })
  })
}
