/** Wiring left to enter, and what is to be looked at again. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import type { Change } from '../../records/contract.ts'
import { append } from '../../records/journal.ts'
import { stateOn } from '../../records/state.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { entrySavedBy, onceKeyOf, onceOf } from '../shared/once.ts'
import { todayOf, trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { dueView, unfinishedView } from './view.ts'

type Again = { readonly form: FormReader; readonly faults: readonly ShownFault[]; readonly status: number }

export function register(app: FastifyInstance): void {
  const stateOf = (request: FastifyRequest) => stateOn(app.db, request.actor, vehicleFrom(app, request).id)
  const showNew = (request: FastifyRequest, reply: FastifyReply, { form, faults, status }: Again) => {
    const vehicle = vehicleFrom(app, request)
    const view = { id: vehicle.id, once: onceOf(app, form), faults, components: form.typed('components'), text: form.typed('text') }
    return reply.page('to-do/new', view, { title: 'Finish wiring later', status, section: 'vehicles', trail: trailOf(vehicle) })
  }
  const showUnfinished = (request: FastifyRequest, reply: FastifyReply, key: string, again: Again) => {
    const vehicle = vehicleFrom(app, request)
    const one = stateOf(request).unfinished.get(key)
    if (!one) throw new NotFound('That is finished already, or was never left open.')
    const view = unfinishedView({ vehicle, one, state: stateOf(request), ...again, today: todayOf(app) })
    return reply.page(
      'to-do/unfinished',
      { ...view, once: onceOf(app, again.form) },
      {
        ...{ title: 'Wiring to enter', status: again.status, section: 'vehicles' },
        trail: trailOf(vehicle),
      },
    )
  }
  const showDue = (request: FastifyRequest, reply: FastifyReply, key: string, again: Again) => {
    const vehicle = vehicleFrom(app, request)
    const one = stateOf(request).due.get(key)
    if (!one) throw new NotFound('That has been looked at already, or was never due.')
    const view = dueView({ vehicle, one, state: stateOf(request), ...again, today: todayOf(app) })
    return reply.page(
      'to-do/due',
      { ...view, once: onceOf(app, again.form) },
      { title: one.what, status: again.status, section: 'vehicles', trail: trailOf(vehicle) },
    )
  }
  const blank = (): Again => ({ form: new FormReader({}), faults: [], status: 200 })

  app.post('/vehicles/:id/unfinished', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const form = new FormReader(request.body)
    const before = entrySavedBy(app, request, form)
    if (before) return reply.redirect(`/entries/${before.id}`, 303)
    const text = form.text('text', { max: 500, required: 'What was changed, in one sentence?' })
    const state = stateOf(request)
    const components = form.text('components', { required: 'Which component?' }).split(' ')
    const known = components.filter((key) => state.components.has(key))
    if (known.length === 0) form.fault('components', 'There is no such component in this vehicle.')
    if (form.faults.length > 0) return showNew(request, reply, { form, faults: formFaults(form.faults), status: 422 })
    const key = `unfinished-${todayOf(app)}-${state.unfinished.size + 1}-${known[0]}`.slice(0, 80)
    const saved = append(app.db, app.clock, request.actor, {
      vehicleId: vehicle.id,
      ...onceKeyOf(form),
      effectiveOn: todayOf(app),
      title: `To finish: ${text}`.slice(0, 120),
      changes: [{ kind: 'unfinished', key, components: known, text }],
    })
    return saved.ok
      ? reply.redirect(`/entries/${saved.value.id}`, 303)
      : showNew(request, reply, { form, faults: refusalFaults(saved.refusals), status: 422 })
  })

  app.get('/vehicles/:id/unfinished/:key', async (request, reply) =>
    showUnfinished(request, reply, (request.params as { key: string }).key, blank()),
  )

  app.post('/vehicles/:id/finished', async (request, reply) =>
    close(request, reply, { showAgain: showUnfinished, title: 'Wiring entered', change: (key) => ({ kind: 'finished', key }) }),
  )

  app.get('/vehicles/:id/due/:key', async (request, reply) => showDue(request, reply, (request.params as { key: string }).key, blank()))

  app.post('/vehicles/:id/due-done', async (request, reply) =>
    close(request, reply, { showAgain: showDue, title: 'Looked at again', change: (key) => ({ kind: 'due-done', key }) }),
  )

  const close = (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { readonly showAgain: typeof showDue; readonly title: string; readonly change: (key: string) => Change },
  ) => {
    const form = new FormReader(request.body)
    const before = entrySavedBy(app, request, form)
    if (before) return reply.redirect(`/entries/${before.id}`, 303)
    const key = form.typed('key')
    const effectiveOn = form.typed('on') === '' ? todayOf(app) : form.date('on', { latest: todayOf(app) })
    const text = form.text('text', { max: 5000 })
    const odometer_km = form.number('odometer', { min: 0, max: 9_999_999 })
    const due = stateOf(request).due.get(key)
    if (due?.every_km !== undefined && odometer_km === null && form.faults.length === 0)
      form.fault('odometer', 'It comes round by distance: what does the odometer read?')
    const again = (faults: readonly ShownFault[]) => given.showAgain(request, reply, key, { form, faults, status: 422 })
    if (form.faults.length > 0) return again(formFaults(form.faults))
    const saved = append(app.db, app.clock, request.actor, {
      vehicleId: vehicleFrom(app, request).id,
      ...onceKeyOf(form),
      effectiveOn,
      title: due ? `${given.title}: ${due.what}`.slice(0, 200) : given.title,
      text,
      ...(odometer_km === null ? {} : { odometer_km }),
      changes: [given.change(key)],
    })
    return saved.ok ? reply.redirect(`/entries/${saved.value.id}`, 303) : again(refusalFaults(saved.refusals))
  }
}
