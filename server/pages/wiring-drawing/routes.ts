import type { FastifyInstance } from 'fastify'
import { drawingWords } from '../shared/wiring-words.ts'
import { dayFrom, judgedOn, statusOf, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/wiring-drawing', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const day = dayFrom(app, request)
    const { document } = judgedOn(app, request, vehicle.id, day)
    const drawing = await app.drawings.wiring(document, drawingWords(document))
    return reply.page('wiring-drawing/show', view({ vehicle, day, document, drawing }), {
      title: `Wiring drawing · ${vehicle.name}`,
      heading: 'Wiring drawing',
      status: statusOf(day),
      section: 'vehicles',
      trail: trailOn(vehicle, day),
    })
  })
}
