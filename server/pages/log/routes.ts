import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { append, entriesOf, preview } from '../../records/journal.ts'
import { partsOf } from '../../records/parts.ts'
import { stateOn } from '../../records/state.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { todayOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { readLog } from './form.ts'
import { type Tried, tried, view } from './view.ts'

export function register(app: FastifyInstance): void {
  const show = (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { form: FormReader; faults: readonly ShownFault[]; tried: Tried | null; status: number },
  ) => {
    const vehicle = vehicleFrom(app, request)
    const state = stateOn(app.db, request.actor, vehicle.id)
    const recent = entriesOf(app.db, request.actor, vehicle.id, { limit: 20 })
    const facts = view({ vehicle, state, parts: partsOf(app.db, request.actor), recent, today: todayOf(app), ...given })
    return reply.page('log/show', facts, { title: `Log in ${vehicle.name}`, status: given.status, section: 'vehicles' })
  }

  app.get('/vehicles/:id/entries/new', async (request, reply) =>
    show(request, reply, { form: new FormReader(request.query), faults: [], tried: null, status: 200 }),
  )

  app.post('/vehicles/:id/entries', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const form = new FormReader(request.body)
    const state = stateOn(app.db, request.actor, vehicle.id)
    const entry = readLog(form, { vehicle, state, parts: partsOf(app.db, request.actor), today: todayOf(app) })
    if (form.faults.length > 0) return show(request, reply, { form, faults: formFaults(form.faults), tried: null, status: 422 })
    if (form.typed('do') === 'try') {
      const seen = preview(app.db, request.actor, entry)
      return seen.ok
        ? show(request, reply, { form, faults: [], tried: tried(seen.value), status: 200 })
        : show(request, reply, { form, faults: refusalFaults(seen.refusals), tried: null, status: 422 })
    }
    const saved = append(app.db, app.clock, request.actor, entry)
    if (!saved.ok) return show(request, reply, { form, faults: refusalFaults(saved.refusals), tried: null, status: 422 })
    return reply.redirect(`/entries/${saved.value.id}`, 303)
  })
}
