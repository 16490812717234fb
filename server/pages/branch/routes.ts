import type { FastifyInstance } from 'fastify'
import { sharesOf } from '../../engine/branch.ts'
import { decisionsAboutComponent } from '../../records/decisions.ts'
import { newId } from '../../records/ids.ts'
import { lifeOf } from '../../records/life.ts'
import { branchOf, feedsOf, solvedOf, withRemedies } from '../../records/solved.ts'
import { stateOn } from '../../records/state.ts'
import { NotFound } from '../../web/error-pages.ts'
import { absent } from '../shared/absent.ts'
import { conditionFrom, dayFrom, judgedOn, statusOf, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/components/:key', { config: { isKept: true } }, async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const { key } = request.params as { key: string }
    const day = dayFrom(app, request)
    const judged = withRemedies(judgedOn(app, request, vehicle.id, day), (one) => one.component === key)
    const component = judged.document.components.find((one) => one.key === key)
    const life = lifeOf(app.db, request.actor, vehicle.id, key)
    if (!life) throw new NotFound('There is no such component here.')
    if (!component) return absent(app, request, reply, { vehicle, day, component: key, name: life.name })
    const circuit = solvedOf(judged.document)
    const facts = branchOf(judged, key)
    const asked = conditionFrom(request, judged, day)
    const index = asked.isAsked ? asked.index : judged.report.conditions.findIndex((one) => one.key === facts.condition)
    const given = {
      ...{ vehicle, day, judged, component, circuit, facts, index, query: asked.query, condition: asked.isAsked ? asked.key : '' },
      shares: sharesOf(circuit, index, key),
      tree: feedsOf(judged.document, Math.max(0, index)),
      state: stateOn(app.db, request.actor, vehicle.id, day.on),
      decisions: decisionsAboutComponent(app.db, request.actor, { vehicleId: vehicle.id, component: key }),
      life,
      once: request.oncePlace || newId(app.clock),
    }
    return reply.page('branch/show', view(given), {
      title: `${component.name} · ${vehicle.name}`,
      heading: component.name,
      section: 'vehicles',
      status: statusOf(day),
      trail: trailOn(vehicle, day),
    })
  })
}
