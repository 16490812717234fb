import type { FastifyInstance } from 'fastify'
import { solvedOf, withRemedies } from '../../records/solved.ts'
import { NotFound } from '../../web/error-pages.ts'
import { ruleOf } from '../shared/rule-words.ts'
import { conditionFrom, dayFrom, judgedOn, trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'
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
    if (!rule || !component || !finding) throw new NotFound('There is no such finding on that day.')
    const { query } = conditionFrom(request, judged, day)
    const shown = view({ vehicle, day, judged, rule, component, finding, circuit: solvedOf(judged.document), query })
    const heading = `${component.name}: ${rule.title}`
    const trail = trailOf(vehicle, { href: shown.findingsHref, label: 'Findings' })
    return reply.page('finding/show', shown, { title: `${heading} · ${vehicle.name}`, heading, section: 'vehicles', trail })
  })
}
