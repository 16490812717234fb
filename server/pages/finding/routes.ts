import type { FastifyInstance } from 'fastify'
import { nameOfComponent } from '../../records/life.ts'
import { solvedOf, withRemedies } from '../../records/solved.ts'
import { NotFound } from '../../web/error-pages.ts'
import { absent } from '../shared/absent.ts'
import { ruleOf } from '../shared/rule-words.ts'
import { conditionFrom, dayFrom, judgedOn, statusOf, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/findings/:rule/:component', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const asked = request.params as { rule: string; component: string }
    const day = dayFrom(app, request)
    const judged = withRemedies(
      judgedOn(app, request, vehicle.id, day),
      (one) => one.rule === asked.rule && one.component === asked.component,
    )
    const rule = ruleOf(asked.rule)
    const component = judged.document.components.find((one) => one.key === asked.component)
    const finding = judged.report.findings.find((one) => one.rule === asked.rule && one.component === asked.component)
    const heard = nameOfComponent(app.db, request.actor, vehicle.id, asked.component)
    if (!rule || heard === null) throw new NotFound('There is no such finding here.')
    if (!component || !finding)
      return absent(app, request, reply, { vehicle, day, component: asked.component, name: heard, what: rule.title })
    const { query } = conditionFrom(request, judged, day)
    const shown = view({ vehicle, day, judged, rule, component, finding, circuit: solvedOf(judged.document), query })
    const heading = `${component.name}: ${rule.title}`
    const trail = trailOn(vehicle, day, { href: shown.findingsHref, label: 'Findings' })
    return reply.page('finding/show', shown, {
      title: `${heading} · ${vehicle.name}`,
      heading,
      status: statusOf(day),
      section: 'vehicles',
      trail,
    })
  })
}
