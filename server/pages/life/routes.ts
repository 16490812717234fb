import type { FastifyInstance } from 'fastify'
import { lifeOf } from '../../records/life.ts'
import { stateOn } from '../../records/state.ts'
import { NotFound } from '../../web/error-pages.ts'
import { absent } from '../shared/absent.ts'
import { dayQuery } from '../shared/day-view.ts'
import { dayFrom, statusOf, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/components/:key/life', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const { key } = request.params as { key: string }
    const day = dayFrom(app, request)
    const whole = lifeOf(app.db, request.actor, vehicle.id, key)
    if (!whole) throw new NotFound('There is no such component here.')
    const life = day.isToday ? whole : lifeOf(app.db, request.actor, vehicle.id, key, day.on)
    if (!life) return absent(app, request, reply, { vehicle, day, component: key, name: whole.name })
    const { zones } = stateOn(app.db, request.actor, vehicle.id, day.on)
    const branch = { href: `/vehicles/${vehicle.id}/components/${key}${dayQuery(day)}`, label: life.name }
    return reply.page('life/show', view({ vehicle, day, life, zones, timeZone: app.config.timeZone }), {
      ...{ title: `The life of ${life.name} · ${vehicle.name}`, heading: `The life of ${life.name}`, section: 'vehicles' },
      status: statusOf(day),
      trail: trailOn(vehicle, day, branch),
    })
  })
}
