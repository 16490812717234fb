import type { FastifyInstance } from 'fastify'
import { solvedOf } from '../../records/solved.ts'
import { verdictsOf } from '../shared/finding-view.ts'
import { boxesOf } from '../shared/fuse-boxes.ts'
import { dayFrom, judgedOn, statusOf, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/on-paper', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const day = dayFrom(app, request)
    const { document, report } = judgedOn(app, request, vehicle.id, day)
    const boxes = boxesOf(solvedOf(document))
    return reply.page('on-paper/show', view({ vehicle, day, boxes, verdicts: verdictsOf(report) }), {
      title: `On paper: ${vehicle.name}`,
      heading: 'On paper',
      section: 'vehicles',
      status: statusOf(day),
      trail: trailOn(vehicle, day),
    })
  })
}
