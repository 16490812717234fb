import type { FastifyInstance } from 'fastify'
import { leftOf } from '../../records/facts.ts'
import { feedsOf } from '../../records/solved.ts'
import { type State, stateOn } from '../../records/state.ts'
import { lastSaveOf } from '../../records/versions.ts'
import { odometerOn } from '../shared/odometer-on.ts'
import { conditionFrom, dayFrom, judgedOn, statusOf, trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id', { config: { isKept: true } }, async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const day = dayFrom(app, request)
    const judged = judgedOn(app, request, vehicle.id, day)
    const condition = conditionFrom(request, judged, day)
    const state = day.isToday
      ? { ...vehicle, fittedOn: new Map(vehicle.fittedOn) }
      : toDoOn(stateOn(app.db, request.actor, vehicle.id, day.on))
    const tree = feedsOf(judged.document, condition.index)
    const last = lastSaveOf(app.db, app.clock, request.actor, vehicle.id)
    return reply.page(
      'vehicle/show',
      view({ vehicle: odometerOn(app, request, vehicle, day), day, judged, state, tree, condition, last }),
      {
        title: vehicle.name,
        status: statusOf(day),
        section: 'vehicles',
        trail: trailOf(vehicle).slice(0, 1),
      },
    )
  })

  app.get('/vehicles/:id/document.json', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const day = dayFrom(app, request)
    if (day.fault !== '') throw Object.assign(new Error(day.fault), { statusCode: statusOf(day) })
    return reply
      .header('content-disposition', 'attachment; filename="vehicle.json"')
      .type('application/json')
      .send(JSON.stringify(judgedOn(app, request, vehicle.id, day).document, null, 1))
  })
}

function toDoOn(state: State) {
  const { fittedOn, unfinished, due, vehicle } = state
  return {
    fittedOn,
    unfinished: [...unfinished.values()],
    due: [...due.values()],
    systemVoltage_V: vehicle.systemVoltage_V,
    left: leftOf(state),
  }
}
