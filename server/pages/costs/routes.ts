/** What the vehicles cost, by year; and the household's currency. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { costsOf } from '../../records/costs.ts'
import { currencyOf, setCurrency } from '../../records/settings.ts'
import { vehicleNames } from '../../records/vehicles.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  const show = (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { readonly form: FormReader | null; readonly faults: readonly ShownFault[] },
  ) => {
    const { page } = request.query as Record<string, unknown>
    const currency = currencyOf(app.db, request.actor)
    const facts = view({ costs: costsOf(app.db, request.actor), vehicles: vehicleNames(app.db, request.actor), currency, page, ...given })
    return reply.page('costs/show', facts, { title: 'Costs', section: 'shelf', status: given.faults.length > 0 ? 422 : 200 })
  }

  app.get('/costs', async (request, reply) => show(request, reply, { form: null, faults: [] }))

  app.post('/currency', async (request, reply) => {
    const form = new FormReader(request.body)
    const typed = form.text('currency', { max: 8 })
    if (form.faults.length > 0) return show(request, reply, { form, faults: formFaults(form.faults) })
    const done = setCurrency(app.db, request.actor, typed)
    return done.ok ? reply.redirect('/costs', 303) : show(request, reply, { form, faults: refusalFaults(done.refusals) })
  })
}
