import type { FastifyInstance } from 'fastify'
import { feedsOf } from '../../records/solved.ts'
import { conditionFrom, dayFrom, judgedOn, statusOf, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/current-picture', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const day = dayFrom(app, request)
    const judged = judgedOn(app, request, vehicle.id, day)
    const condition = conditionFrom(request, judged, day)
    const rows = feedsOf(judged.document, condition.index)
    return reply.page('current-picture/show', view({ vehicle, day, judged, condition, rows }), {
      title: `Current picture · ${vehicle.name}`,
      heading: 'Current picture',
      status: statusOf(day),
      section: 'vehicles',
      trail: trailOn(vehicle, day),
    })
  })
}
