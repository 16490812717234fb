import type { FastifyInstance } from 'fastify'
import { withRemedies } from '../../records/solved.ts'
import { dayFrom, judgedOn, trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/findings', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const day = dayFrom(app, request)
    const judged = withRemedies(judgedOn(app, request, vehicle.id, day))
    return reply.page('findings/show', view({ vehicle, day, judged, query: request.query as Record<string, unknown> }), {
      title: `Findings of ${vehicle.name}`,
      heading: 'Findings',
      section: 'vehicles',
      trail: trailOf(vehicle),
    })
  })
}
