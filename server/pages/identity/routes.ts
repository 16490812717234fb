/** What the vehicle is: make, model, year, its numbers and where it is kept. Said anew in an entry, so that what it was is not lost. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { append } from '../../records/journal.ts'
import { stateOn } from '../../records/state.ts'
import { FormReader } from '../../web/form.ts'
import { dayView } from '../shared/day-view.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { entrySavedBy, onceKeyOf, onceOf } from '../shared/once.ts'
import { dayFrom, statusOf, todayOf, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'

const FIELDS = [
  { name: 'make', label: 'Make', most: 80, hint: '' },
  { name: 'model', label: 'Model', most: 80, hint: '' },
  { name: 'year', label: 'Year', most: 20, hint: 'of its first registration, or as you know it' },
  { name: 'vin', label: 'VIN', most: 40, hint: '17 letters and figures; shorter on older vehicles' },
  { name: 'plate', label: 'Plate', most: 20, hint: '' },
  { name: 'keptAt', label: 'Kept at', most: 200, hint: 'where it stands' },
] as const

export function register(app: FastifyInstance): void {
  const show = (request: FastifyRequest, reply: FastifyReply, form: FormReader, faults: readonly ShownFault[]) => {
    const vehicle = vehicleFrom(app, request)
    const day = dayFrom(app, request)
    const known = stateOn(app.db, request.actor, vehicle.id, day.isToday ? undefined : day.on).vehicle
    const fields = FIELDS.map((one) => ({
      ...one,
      value: form.body[one.name] === undefined ? String(known[one.name] ?? '') : form.typed(one.name),
    }))
    const path = `/vehicles/${vehicle.id}/identity`
    // What is typed is recorded as of today: over a past day's words that would bring them back.
    const facts = day.isToday ? [] : FIELDS.map(({ name, label }) => ({ label, value: String(known[name] ?? '') || 'not said' }))
    const view = {
      id: vehicle.id,
      day: dayView(day, { vehicle, path, judges: false }),
      facts,
      faults,
      fields,
      once: onceOf(app, form),
      at: path,
    }
    return reply.page('identity/show', view, {
      ...{ title: `Identity of ${vehicle.name}`, heading: 'Identity', section: 'vehicles', trail: trailOn(vehicle, day) },
      status: faults.length > 0 ? 422 : statusOf(day),
    })
  }

  app.get('/vehicles/:id/identity', async (request, reply) => {
    const kept = app.keptForms.find(request.actor.personId, (request.query as Record<string, unknown>).kept)
    return show(request, reply, new FormReader(kept ?? {}), [])
  })

  app.post('/vehicles/:id/identity', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const form = new FormReader(request.body)
    const saved = entrySavedBy(app, request, form)
    if (saved) return reply.redirect(`/entries/${saved.id}`, 303)
    const said = Object.fromEntries(FIELDS.map(({ name, most }) => [name, form.text(name, { max: most })]))
    if (form.faults.length > 0) return show(request, reply, form, formFaults(form.faults))
    const made = append(app.db, app.clock, request.actor, {
      ...{ vehicleId: vehicle.id, effectiveOn: todayOf(app), title: 'Identity recorded', ...onceKeyOf(form) },
      changes: [{ kind: 'described', vehicle: said }],
    })
    return made.ok ? reply.redirect(`/entries/${made.value.id}`, 303) : show(request, reply, form, refusalFaults(made.refusals))
  })
}
