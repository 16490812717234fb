import type { FastifyInstance } from 'fastify'
import { loadDemo } from '../../records/demo/index.ts'
import { reportOn } from '../../records/projection.ts'
import { stateOn } from '../../records/state.ts'
import { createVehicle, vehiclesOf } from '../../records/vehicles.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults } from '../shared/faults.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/', async (request, reply) => {
    const facts = vehiclesOf(app.db, request.actor).map((vehicle) => ({
      vehicle,
      report: reportOn(app.db, request.actor, vehicle.id).report,
      state: stateOn(app.db, request.actor, vehicle.id),
    }))
    return reply.page('vehicles/show', view(facts), { title: 'Vehicles', section: 'vehicles' })
  })

  app.get('/vehicles/new', async (_request, reply) =>
    reply.page('vehicles/new', { faults: [], name: '', systemVoltage_V: '12' }, { title: 'A new vehicle' }),
  )

  app.post('/vehicles', async (request, reply) => {
    const form = new FormReader(request.body)
    const name = form.text('name', { required: 'What is it called?', max: 120 })
    const systemVoltage_V = Number(form.choice('systemVoltage_V', ['6', '12', '24', '48'], '12'))
    const made = form.faults.length === 0 ? createVehicle(app.db, app.clock, request.actor, { name, systemVoltage_V }) : null
    if (made?.ok) return reply.redirect(`/vehicles/${made.value.id}`, 303)
    const faults = made ? refusalFaults(made.refusals) : formFaults(form.faults)
    return reply.page(
      'vehicles/new',
      { faults, name: form.typed('name'), systemVoltage_V: form.typed('systemVoltage_V') },
      { title: 'A new vehicle', status: 422 },
    )
  })

  app.post('/demonstration', async (request, reply) => {
    loadDemo(app.db, app.clock, request.actor)
    return reply.redirect('/', 303)
  })
}
