import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { copyVehicle } from '../../records/vehicles.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { onceKeyOf, onceOf } from '../shared/once.ts'
import { todayOf, trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'

export function register(app: FastifyInstance): void {
  const show = (request: FastifyRequest, reply: FastifyReply, form: FormReader, faults: readonly ShownFault[]) => {
    const vehicle = vehicleFrom(app, request)
    const view = { id: vehicle.id, like: vehicle.name, faults, name: form.typed('name'), once: onceOf(app, form) }
    return reply.page('copy/show', view, {
      ...{ title: `Another like ${vehicle.name}`, section: 'vehicles', trail: trailOf(vehicle) },
      status: faults.length > 0 ? 422 : 200,
    })
  }

  app.get('/vehicles/:id/copies/new', async (request, reply) => show(request, reply, new FormReader({}), []))

  app.post('/vehicles/:id/copies', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const form = new FormReader(request.body)
    const name = form.text('name', { required: 'What is the new one called?', max: 120 })
    if (form.faults.length > 0) return show(request, reply, form, formFaults(form.faults))
    const made = copyVehicle(app.db, app.clock, request.actor, vehicle.id, { name, effectiveOn: todayOf(app), ...onceKeyOf(form) })
    return made.ok ? reply.redirect(`/vehicles/${made.value.vehicleId}`, 303) : show(request, reply, form, refusalFaults(made.refusals))
  })
}
