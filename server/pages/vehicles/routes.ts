import type { FastifyInstance } from 'fastify'
import { loadDemo } from '../../records/demo/index.ts'
import { newId } from '../../records/ids.ts'
import { componentsCalled } from '../../records/search.ts'
import { createVehicle, vehicleCount, vehiclesOf } from '../../records/vehicles.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults } from '../shared/faults.ts'
import { onceId, onceOf } from '../shared/once.ts'
import { type Option, option } from '../shared/options.ts'
import { spanOf } from '../shared/paging.ts'
import { hitOf, view } from './view.ts'

const VOLTAGES = ['6', '12', '24', '48'] as const
const NEW_VEHICLE = { title: 'A new vehicle', section: 'vehicles', trail: [{ href: '/', label: 'Vehicles' }] } as const

export function register(app: FastifyInstance): void {
  app.get('/', async (request, reply) => {
    const { find, page } = request.query as Record<string, unknown>
    const sought = typeof find === 'string' ? find.trim().slice(0, 100) : ''
    const places = sought === '' ? [] : componentsCalled(app.db, request.actor, sought)
    const [only] = places
    if (sought !== '' && !only) return reply.redirect(`/search?${new URLSearchParams({ q: sought })}`, 303)
    if (only && places.length === 1) return reply.redirect(hitOf(only).href, 303)
    const span = spanOf(vehicleCount(app.db, request.actor), {
      asked: page,
      perPage: 24,
      things: ['vehicle', 'vehicles'],
      address: (to) => `/?page=${to}`,
    })
    const vehicles = vehiclesOf(app.db, request.actor, { from: span.from, most: span.most })
    return reply.page('vehicles/show', view({ vehicles, span, sought, places }), { title: 'Vehicles', section: 'vehicles' })
  })

  app.get('/vehicles/new', async (_request, reply) =>
    reply.page('vehicles/new', { faults: [], once: newId(app.clock), name: '', voltages: voltagesOf('12') }, NEW_VEHICLE),
  )

  app.post('/vehicles', async (request, reply) => {
    const form = new FormReader(request.body)
    const name = form.text('name', { required: 'What is it called?', max: 120 })
    const systemVoltage_V = Number(form.choice('systemVoltage_V', VOLTAGES, '12'))
    const made =
      form.faults.length === 0
        ? createVehicle(app.db, app.clock, request.actor, { ...onceId(app, request, form), name, systemVoltage_V })
        : null
    if (made?.ok) return reply.redirect(`/vehicles/${made.value.id}`, 303)
    const faults = made ? refusalFaults(made.refusals) : formFaults(form.faults)
    return reply.page(
      'vehicles/new',
      { faults, once: onceOf(app, form), name: form.typed('name'), voltages: voltagesOf(form.typed('systemVoltage_V')) },
      { ...NEW_VEHICLE, status: 422 },
    )
  })

  app.post('/demonstration', async (request, reply) => {
    // Offered where there is no vehicle yet: pressed twice, they come once.
    if (vehiclesOf(app.db, request.actor).length === 0) loadDemo(app.db, app.clock, request.actor)
    return reply.redirect('/', 303)
  })
}

function voltagesOf(picked: string): readonly Option[] {
  return VOLTAGES.map((volts) => option(volts, `${volts} V`, picked))
}
