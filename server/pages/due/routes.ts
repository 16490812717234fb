/** What is due over all vehicles or one; set, changed and dropped here, done on its own page. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { dueList } from '../../records/due.ts'
import { append } from '../../records/journal.ts'
import { type Due, stateOn } from '../../records/state.ts'
import { vehicleNames } from '../../records/vehicles.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { entrySavedBy, onceKeyOf } from '../shared/once.ts'
import { dayFrom, statusOf, todayOf, trailOf, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { readDue } from './form.ts'
import { formView, view } from './view.ts'

export function register(app: FastifyInstance): void {
  type Shown = { readonly one: Due | null; readonly form?: FormReader; readonly faults?: readonly ShownFault[]; readonly status?: number }
  const stateOf = (request: FastifyRequest) => stateOn(app.db, request.actor, vehicleFrom(app, request).id)
  const showForm = (request: FastifyRequest, reply: FastifyReply, given: Shown) => {
    const vehicle = vehicleFrom(app, request)
    const facts = formView({ vehicle, state: stateOf(request), one: given.one, form: given.form ?? null, faults: given.faults ?? [] })
    return reply.page('due/form', facts, {
      ...{ title: given.one ? 'Change what is due' : 'Something to look at', status: given.status ?? 200, section: 'due' },
      trail: trailOf(vehicle, { href: `/vehicles/${vehicle.id}/due`, label: 'Due' }),
    })
  }
  const dueFrom = (request: FastifyRequest, key: string): Due => {
    const one = stateOf(request).due.get(key)
    if (!one) throw new NotFound('That has been looked at already, or was never due.')
    return one
  }

  app.get('/due', async (request, reply) => {
    const { page, vehicle } = request.query as Record<string, unknown>
    const vehicles = vehicleNames(app.db, request.actor)
    const asked = vehicles.find((one) => one.id === vehicle)
    if (asked) return reply.redirect(`/vehicles/${asked.id}/due-items/new`, 303)
    const list = dueList(app.db, request.actor, { today: todayOf(app) })
    return reply.page('due/show', view(list, { vehicles, page, path: '/due' }), { title: 'Due', section: 'due' })
  })

  app.get('/vehicles/:id/due', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const day = dayFrom(app, request)
    const list = dueList(app.db, request.actor, { today: todayOf(app), vehicleId: vehicle.id })
    const { page } = request.query as Record<string, unknown>
    return reply.page('due/show', view(list, { vehicles: [vehicle], page, path: `/vehicles/${vehicle.id}/due`, day }), {
      ...{ title: `Due on ${vehicle.name}`, heading: 'Due', section: 'due', trail: trailOn(vehicle, day) },
      status: statusOf(day),
    })
  })

  app.get('/vehicles/:id/due-items/new', async (request, reply) =>
    showForm(request, reply, { one: null, form: new FormReader(request.query) }),
  )

  app.get('/vehicles/:id/due/:key/change', async (request, reply) =>
    showForm(request, reply, { one: dueFrom(request, (request.params as { key: string }).key) }),
  )

  app.post('/vehicles/:id/due-items', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const form = new FormReader(request.body)
    if (entrySavedBy(app, request, form)) return reply.redirect(`/vehicles/${vehicle.id}/due`, 303)
    const state = stateOf(request)
    const change = readDue(form, { state, today: todayOf(app) })
    const again = (faults: readonly ShownFault[]) =>
      showForm(request, reply, { one: state.due.get(change.key) ?? null, form, faults, status: 422 })
    if (form.faults.length > 0) return again(formFaults(form.faults))
    const title = `To look at: ${change.what}`.slice(0, 200)
    const entry = { vehicleId: vehicle.id, effectiveOn: todayOf(app), title, changes: [change], ...onceKeyOf(form) }
    const saved = append(app.db, app.clock, request.actor, entry)
    return saved.ok ? reply.redirect(`/vehicles/${vehicle.id}/due`, 303) : again(refusalFaults(saved.refusals))
  })

  app.post('/vehicles/:id/due-drops', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const form = new FormReader(request.body)
    const before = entrySavedBy(app, request, form)
    if (before) return reply.redirect(`/entries/${before.id}`, 303)
    const one = dueFrom(request, form.typed('key'))
    const title = `Need not be looked at: ${one.what}`.slice(0, 200)
    const changes = [{ kind: 'due-dropped', key: one.key } as const]
    const entry = { vehicleId: vehicle.id, effectiveOn: todayOf(app), title, changes, ...onceKeyOf(form) }
    const saved = append(app.db, app.clock, request.actor, entry)
    if (saved.ok) return reply.redirect(`/entries/${saved.value.id}`, 303)
    return showForm(request, reply, { one, faults: refusalFaults(saved.refusals), status: 409 })
  })
}
