import type { FastifyInstance, FastifyRequest } from 'fastify'
import { entryOf, withdraw } from '../../records/journal.ts'
import { reportOn } from '../../records/projection.ts'
import { vehicleOf } from '../../records/vehicles.ts'
import { NotFound } from '../../web/error-pages.ts'
import { refusalFaults, type ShownFault } from '../shared/faults.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  const factsOf = (request: FastifyRequest, faults: readonly ShownFault[]) => {
    const { id } = request.params as { id: string }
    const entry = entryOf(app.db, request.actor, id)
    const vehicle = entry && vehicleOf(app.db, request.actor, entry.vehicleId)
    if (!entry || !vehicle) throw new NotFound('There is no such entry here.')
    const { document, report } = reportOn(app.db, request.actor, vehicle.id)
    return { entry, facts: view({ entry, vehicle, document, report, faults }) }
  }

  app.get('/entries/:id', async (request, reply) => {
    const { entry, facts } = factsOf(request, [])
    return reply.page('entry/show', facts, { title: entry.title, section: 'vehicles' })
  })

  app.post('/entries/:id/withdrawals', async (request, reply) => {
    const { id } = request.params as { id: string }
    const done = withdraw(app.db, app.clock, request.actor, id)
    if (done.ok) return reply.redirect(`/entries/${id}`, 303)
    const { entry, facts } = factsOf(request, refusalFaults(done.refusals))
    return reply.page('entry/show', facts, { title: entry.title, status: 422 })
  })
}
