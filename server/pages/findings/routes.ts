import type { FastifyInstance } from 'fastify'
import { withRemedies } from '../../records/solved.ts'
import { dayFrom, judgedOn, statusOf, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/findings', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const day = dayFrom(app, request)
    const asked = request.query as Record<string, unknown>
    const judged = withRemedies(
      judgedOn(app, request, vehicle.id, day),
      (one) =>
        (!asked.rule || one.rule === asked.rule) &&
        (asked.verdict === 'over' || asked.verdict === 'tight' ? one.verdict === asked.verdict : true),
    )
    return reply.page('findings/show', view({ vehicle, day, judged, query: asked }), {
      title: `Findings of ${vehicle.name}`,
      heading: 'Findings',
      section: 'vehicles',
      status: statusOf(day),
      trail: trailOn(vehicle, day),
    })
  })
}
