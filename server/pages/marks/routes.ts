/** What stands on a conductor: colour, stripe, wire number, and the terminals on its ends with the tool that made them. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { append } from '../../records/journal.ts'
import { reportOn } from '../../records/projection.ts'
import { stateOn } from '../../records/state.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { entrySavedBy, onceOf } from '../shared/once.ts'
import { todayOf, trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { readMarks } from './form.ts'
import { fieldLabel, view } from './view.ts'

export function register(app: FastifyInstance): void {
  const placeOf = (request: FastifyRequest) => {
    const vehicle = vehicleFrom(app, request)
    const component = stateOn(app.db, request.actor, vehicle.id).components.get((request.params as { key: string }).key)
    const { document } = reportOn(app.db, request.actor, vehicle.id)
    const part = document.parts.find((one) => one.key === component?.part)
    if (!component || part?.kind !== 'conductor') throw new NotFound('No such conductor is fitted today.')
    return { vehicle, component, document, today: todayOf(app) }
  }
  const show = (request: FastifyRequest, reply: FastifyReply, form: FormReader, faults: readonly ShownFault[]) => {
    const place = placeOf(request)
    const { vehicle, component } = place
    return reply.page('marks/show', view({ ...place, form, faults, once: onceOf(app, form) }), {
      title: `Marks of ${component.name}`,
      heading: 'Colour, number and terminals',
      section: 'vehicles',
      status: faults.length > 0 ? 422 : 200,
      trail: trailOf(vehicle, { href: `/vehicles/${vehicle.id}/components/${component.key}`, label: component.name }),
    })
  }

  app.get('/vehicles/:id/components/:key/marks', async (request, reply) => {
    const kept = app.keptForms.find(request.actor.personId, (request.query as Record<string, unknown>).kept)
    return show(request, reply, new FormReader(kept ?? {}), [])
  })

  app.post('/vehicles/:id/components/:key/marks', async (request, reply) => {
    const form = new FormReader(request.body)
    const before = entrySavedBy(app, request, form)
    if (before) return reply.redirect(`/entries/${before.id}`, 303)
    const { vehicle, component, today } = placeOf(request)
    const entry = readMarks(form, { vehicleId: vehicle.id, component, today })
    if (form.faults.length > 0) return show(request, reply, form, formFaults(form.faults, fieldLabel))
    const saved = append(app.db, app.clock, request.actor, entry)
    return saved.ok
      ? reply.redirect(`/entries/${saved.value.id}`, 303)
      : show(request, reply, form, refusalFaults(saved.refusals, { label: fieldLabel }))
  })
}
