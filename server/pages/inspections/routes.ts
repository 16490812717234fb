/** A part failed in one place: a look at every other place that holds it, put on the list at once. */
import { randomUUID } from 'node:crypto'
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { plusDays } from '../../records/days.ts'
import { inspectionKey, putInspections, whereFitted } from '../../records/fittings.ts'
import { partOf } from '../../records/parts.ts'
import { stateOn } from '../../records/state.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { onceKeyOf } from '../shared/once.ts'
import { todayOf } from '../shared/vehicle-facts.ts'
import { fieldOf, view } from './view.ts'

const usually_days = 14

export function register(app: FastifyInstance): void {
  const partFrom = (request: FastifyRequest) => {
    const part = partOf(app.db, request.actor, (request.params as { id: string }).id)
    if (!part) throw new NotFound('There is no such part here.')
    return part
  }
  const holders = (request: FastifyRequest, partId: string) =>
    whereFitted(app.db, request.actor, partId)
      .filter((one) => one.until === null)
      .map((one) => ({
        ...one,
        listed: stateOn(app.db, request.actor, one.vehicleId).due.has(inspectionKey({ partId, component: one.component })),
      }))
  const show = (request: FastifyRequest, reply: FastifyReply, given: { form: FormReader | null; faults: readonly ShownFault[] }) => {
    const part = partFrom(request)
    const { failed } = request.query as { failed?: unknown }
    const usual = { once: randomUUID(), by: plusDays(todayOf(app), usually_days), failed: typeof failed === 'string' ? failed : '' }
    return reply.page('inspections/new', view({ part, places: holders(request, part.id), usual, ...given }), {
      ...{ title: `Look at every ${part.name}`, section: 'shelf', status: given.faults.length > 0 ? 422 : 200 },
      trail: [
        { href: '/shelf', label: 'Shelf' },
        { href: `/parts/${part.id}`, label: part.name },
      ],
    })
  }

  app.get('/parts/:id/inspections/new', async (request, reply) => show(request, reply, { form: null, faults: [] }))

  app.post('/parts/:id/inspections', async (request, reply) => {
    const part = partFrom(request)
    const form = new FormReader(request.body)
    const what = form.text('what', { max: 500, required: 'What is to be looked at?' })
    const by = form.date('by', { latest: '2199-12-31' })
    const places = holders(request, part.id).filter((one) => form.ticked(fieldOf(one)))
    if (places.length === 0) form.fault('places', 'Tick at least one place to look at.')
    if (form.faults.length > 0) return show(request, reply, { form, faults: formFaults(form.faults) })
    // Of all that was typed, short enough that each vehicle's id fits behind it.
    const once = onceKeyOf(form).onceKey?.slice(-43) ?? randomUUID()
    const ask = { partId: part.id, places, what, effectiveOn: todayOf(app), by, onceKey: once }
    const done = putInspections(app.db, app.clock, request.actor, ask)
    return done.ok ? reply.redirect('/due', 303) : show(request, reply, { form, faults: refusalFaults(done.refusals) })
  })
}
