import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { append, entriesOf, preview } from '../../records/journal.ts'
import { partsOf } from '../../records/parts.ts'
import { stateOn } from '../../records/state.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults } from '../shared/faults.ts'
import { entrySavedBy } from '../shared/once.ts'
import { type Answer, triedView } from '../shared/tried.ts'
import { todayOf, trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { readLog } from './form.ts'
import { fieldLabel, strandedViews, view } from './view.ts'

export function register(app: FastifyInstance): void {
  const show = (request: FastifyRequest, reply: FastifyReply, given: Answer & { readonly form: FormReader; readonly status: number }) => {
    const vehicle = vehicleFrom(app, request)
    const today = todayOf(app)
    const recent = entriesOf(app.db, request.actor, vehicle.id, { limit: 20 })
    const parts = partsOf(app.db, request.actor)
    const facts = view({ vehicle, state: stateThen(request, given.form), parts, recent, today, ...given })
    return reply.page('log/show', facts, {
      title: `Log in ${vehicle.name}`,
      heading: 'Log a job',
      status: given.status,
      section: 'vehicles',
      trail: trailOf(vehicle),
      swaps: true,
    })
  }
  /** The vehicle as it stood on the day that was typed, or as it stands. */
  const stateThen = (request: FastifyRequest, form: FormReader) => {
    const typed = form.typed('on')
    const on = /^\d{4}-\d{2}-\d{2}$/.test(typed) && typed < todayOf(app) ? typed : undefined
    return stateOn(app.db, request.actor, (request.params as { id: string }).id, on)
  }
  const read = (request: FastifyRequest, form: FormReader) =>
    readLog(form, {
      vehicle: vehicleFrom(app, request),
      state: stateThen(request, form),
      parts: partsOf(app.db, request.actor),
      today: todayOf(app),
    })
  const tryOut = (request: FastifyRequest, form: FormReader): Answer => {
    const vehicle = vehicleFrom(app, request)
    const entry = read(request, form)
    if (form.faults.length > 0) return { faults: formFaults(form.faults, fieldLabel), tried: null }
    const seen = preview(app.db, request.actor, entry)
    if (!seen.ok) return { faults: refusalFaults(seen.refusals, { label: fieldLabel }), tried: null }
    return { faults: [], tried: triedView(seen.value, { vehicleId: vehicle.id }) }
  }

  app.get('/vehicles/:id/entries/new', async (request, reply) =>
    show(request, reply, { form: new FormReader(request.query), faults: [], tried: null, status: 200 }),
  )

  app.post('/vehicles/:id/entry-previews', async (request, reply) => {
    const form = new FormReader(request.body)
    const answer = tryOut(request, form)
    const stranded = strandedViews(form, { state: stateThen(request, form), parts: partsOf(app.db, request.actor) })
    return reply.fragment('log/_tried', { ...answer, stranded }, { status: answer.tried ? 200 : 422 })
  })

  app.post('/vehicles/:id/entries', async (request, reply) => {
    const form = new FormReader(request.body)
    if (form.typed('do') === 'try') {
      const answer = tryOut(request, form)
      return show(request, reply, { form, ...answer, status: answer.tried ? 200 : 422 })
    }
    const before = entrySavedBy(app, request, form)
    if (before) return reply.redirect(`/entries/${before.id}`, 303)
    const entry = read(request, form)
    if (form.faults.length > 0) return show(request, reply, { form, faults: formFaults(form.faults, fieldLabel), tried: null, status: 422 })
    const saved = append(app.db, app.clock, request.actor, entry)
    if (!saved.ok)
      return show(request, reply, { form, faults: refusalFaults(saved.refusals, { label: fieldLabel }), tried: null, status: 422 })
    return reply.redirect(`/entries/${saved.value.id}`, 303)
  })
}
