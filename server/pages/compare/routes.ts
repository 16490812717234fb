import type { FastifyInstance } from 'fastify'
import { compareFindings } from '../../engine/compare.ts'
import { compareStates } from '../../records/compare-states.ts'
import { liveEntries } from '../../records/entry-rows.ts'
import { partsById } from '../../records/part-rows.ts'
import { reportOn } from '../../records/projection.ts'
import { stateOn } from '../../records/state.ts'
import { formFaults } from '../shared/faults.ts'
import { todayOf, trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { readDays } from './form.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/compare', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const today = todayOf(app)
    const { form, from, to } = readDays(request.query, { today, firstOn: vehicle.firstOn })
    const on = (day: string) => reportOn(app.db, request.actor, vehicle.id, day === today ? undefined : day)
    const state = (day: string) => stateOn(app.db, request.actor, vehicle.id, day)
    const facts = view({
      ...{ vehicle, from, to, today, form, faults: formFaults(form.faults, (field) => (field === 'from' ? 'From' : 'To')) },
      ...{ before: state(from), after: state(to), reports: { before: on(from).report, after: on(to).report } },
      ...{ differences: compareStates(state(from), state(to)), findings: compareFindings(on(from).report, on(to).report) },
      parts: partsById(app.db, request.actor),
      entries: [...liveEntries(app.db, request.actor, vehicle.id)].reverse(),
    })
    return reply.page('compare/show', facts, {
      ...{ title: `Two days of ${vehicle.name}`, heading: 'What changed between two days', section: 'vehicles' },
      status: form.faults.length > 0 ? 422 : 200,
      trail: trailOf(vehicle),
    })
  })
}
