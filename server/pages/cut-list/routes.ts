import type { FastifyInstance, FastifyRequest } from 'fastify'
import { harnessesOf } from '../../drawing/harnesses.ts'
import { linksOf } from '../../drawing/links.ts'
import { sheet } from '../../records/archive-write.ts'
import { FormReader } from '../../web/form.ts'
import { columns, cutLines, rows } from '../shared/cut-lines.ts'
import { dayFrom, judgedOn, statusOf, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { askedFrom } from './form.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/cut-list', async (request, reply) => {
    const list = listFrom(app, request)
    const { vehicle, day, asked } = list
    return reply.page('cut-list/show', view(list), {
      title: `Cut list · ${vehicle.name}`,
      heading: 'Cut list',
      status: asked.faults.length > 0 ? 422 : statusOf(day),
      section: 'vehicles',
      trail: trailOn(vehicle, day),
    })
  })

  app.get('/vehicles/:id/cut-list.csv', async (request, reply) => {
    const { day, asked, lines } = listFrom(app, request)
    const fault = asked.faults[0]?.says ?? day.fault
    if (fault !== '') throw Object.assign(new Error(fault), { statusCode: 422 })
    return reply
      .header('content-disposition', 'attachment; filename="cut-list.csv"')
      .header('cache-control', 'no-store')
      .type('text/csv; charset=utf-8')
      .send(sheet(columns, rows(lines)))
  })
}

function listFrom(app: FastifyInstance, request: FastifyRequest) {
  const vehicle = vehicleFrom(app, request)
  const day = dayFrom(app, request)
  const { document } = judgedOn(app, request, vehicle.id, day)
  const linked = linksOf(document)
  const harnesses = harnessesOf(linked)
  const asked = askedFrom(
    new FormReader(request.query),
    harnesses.map((one) => one.key),
  )
  const picked = harnesses.find((one) => one.key === asked.harness)
  const lines = cutLines(linked, asked.allowance, picked ? new Set(picked.conductors) : null)
  return { vehicle, day, harnesses, asked, lines, isEmpty: document.components.length === 0 }
}
