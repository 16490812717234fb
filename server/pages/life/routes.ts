import type { FastifyInstance } from 'fastify'
import { lifeOf } from '../../records/life.ts'
import { stateOn } from '../../records/state.ts'
import { NotFound } from '../../web/error-pages.ts'
import { trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/components/:key/life', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const { key } = request.params as { key: string }
    const life = lifeOf(app.db, request.actor, vehicle.id, key)
    if (!life) throw new NotFound('There is no such component here.')
    const { zones } = stateOn(app.db, request.actor, vehicle.id)
    const branch = { href: `/vehicles/${vehicle.id}/components/${key}`, label: life.name }
    return reply.page('life/show', view({ vehicle, life, zones, timeZone: app.config.timeZone }), {
      ...{ title: `The life of ${life.name} · ${vehicle.name}`, heading: `The life of ${life.name}`, section: 'vehicles' },
      trail: trailOf(vehicle, branch),
    })
  })
}
