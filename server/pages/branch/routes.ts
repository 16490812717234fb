import type { FastifyInstance } from 'fastify'
import { entriesAbout } from '../../records/journal.ts'
import { branchOf, solvedOf } from '../../records/solved.ts'
import { NotFound } from '../../web/error-pages.ts'
import { dayFrom, judgedOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/components/:key', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const { key } = request.params as { key: string }
    const day = dayFrom(app, request)
    const judged = judgedOn(app, request, vehicle.id, day)
    const component = judged.document.components.find((one) => one.key === key)
    if (!component) throw new NotFound('No such component was fitted on that day.')
    const circuit = solvedOf(judged.document)
    const facts = branchOf(judged, key)
    const history = entriesAbout(app.db, request.actor, vehicle.id, key)
    return reply.page('branch/show', view({ vehicle, day, judged, component, circuit, facts, history }), {
      title: `${component.name} · ${vehicle.name}`,
      section: 'vehicles',
    })
  })
}
