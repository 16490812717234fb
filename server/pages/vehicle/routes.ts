import type { FastifyInstance } from 'fastify'
import { feedsOf } from '../../records/solved.ts'
import { type State, stateOn } from '../../records/state.ts'
import { conditionFrom, dayFrom, judgedOn, trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const day = dayFrom(app, request)
    const judged = judgedOn(app, request, vehicle.id, day)
    const condition = conditionFrom(request, judged, day)
    const state = day.isToday
      ? { ...vehicle, fittedOn: new Map(vehicle.fittedOn) }
      : toDoOn(stateOn(app.db, request.actor, vehicle.id, day.on))
    const tree = feedsOf(judged.document, condition.index)
    return reply.page('vehicle/show', view({ vehicle, day, judged, state, tree, condition }), {
      title: vehicle.name,
      section: 'vehicles',
      trail: trailOf(vehicle).slice(0, 1),
    })
  })

  app.get('/vehicles/:id/document.json', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    return reply
      .header('content-disposition', 'attachment; filename="vehicle.json"')
      .type('application/json')
      .send(JSON.stringify(judgedOn(app, request, vehicle.id, dayFrom(app, request)).document, null, 1))
  })
}

function toDoOn({ fittedOn, unfinished, due }: State) {
  return { fittedOn, unfinished: [...unfinished.values()], due: [...due.values()] }
}
