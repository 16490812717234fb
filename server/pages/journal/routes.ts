import type { FastifyInstance } from 'fastify'
import { journalList } from '../../records/journal-list.ts'
import { currencyOf } from '../../records/settings.ts'
import { lastSaveOf } from '../../records/versions.ts'
import { dayQuery } from '../shared/day-view.ts'
import { type Span, spanOf } from '../shared/paging.ts'
import { dayFrom, statusOf, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/journal', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const day = dayFrom(app, request)
    const { contains, page } = request.query as Record<string, unknown>
    const sought = typeof contains === 'string' ? contains.trim().slice(0, 200) : ''
    const last = lastSaveOf(app.db, app.clock, request.actor, vehicle.id)
    const address = (to: number) =>
      `/vehicles/${vehicle.id}/journal${dayQuery(day, { page: String(to), ...(sought === '' ? {} : { contains: sought }) })}`
    const range = (count: number): Span => spanOf(count, { asked: page, things: ['entry', 'entries'], address })
    const until = day.isToday ? undefined : day.on
    const list = journalList(app.db, request.actor, vehicle.id, { contains: sought, until, range })
    const currency = currencyOf(app.db, request.actor)
    return reply.page('journal/show', view({ vehicle, day, list, span: range(list.count), sought, last, currency }), {
      ...{ title: `Journal of ${vehicle.name}`, heading: 'Journal', section: 'vehicles' },
      status: statusOf(day),
      trail: trailOn(vehicle, day),
    })
  })
}
