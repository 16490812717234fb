import type { FastifyInstance } from 'fastify'
import { dayFrom, judgedOn, statusOf, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/components', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const day = dayFrom(app, request)
    const judged = judgedOn(app, request, vehicle.id, day)
    return reply.page('components/show', view({ vehicle, day, judged, query: request.query as Record<string, unknown> }), {
      title: `Components of ${vehicle.name}`,
      heading: 'Every component',
      section: 'vehicles',
      status: statusOf(day),
      trail: trailOn(vehicle, day),
    })
  })
}
