import type { FastifyInstance, FastifyRequest } from 'fastify'
import { solvedOf } from '../../records/solved.ts'
import { stocksOf } from '../../records/stock.ts'
import { NotFound } from '../../web/error-pages.ts'
import { fileNameOf, wantedDay } from '../shared/on-paper.ts'
import { fuseBoxesOf } from '../shared/fuse-boxes.ts'
import { cardNamed } from '../shared/fuse-cards.ts'
import { judgedOn, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { chartPdf } from './pdf.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/fuse-box/:box/chart', async (request, reply) => {
    const { vehicle, box, size, day } = asked(app, request)
    const isExact = (request.query as { paper?: unknown }).paper === 'exact'
    return reply.page('fuse-chart/show', view({ vehicle, box, size, isExact, day }), {
      title: `Fuse chart: ${box.name} · ${vehicle.name}`,
      heading: `Fuse chart: ${box.name}`,
      section: 'vehicles',
      trail: trailOn(vehicle, day, { href: `/vehicles/${vehicle.id}/on-paper`, label: 'On paper' }),
      styles: ['on-paper'],
    })
  })

  app.get('/vehicles/:id/fuse-box/:box/chart.pdf', async (request, reply) => {
    const { vehicle, box, size, day } = asked(app, request)
    const bytes = await chartPdf({ vehicle: vehicle.name, box, size, on: day.on, at: app.clock.now() })
    return reply
      .type('application/pdf')
      .header('content-disposition', `inline; filename="${fileNameOf(`fuse chart ${box.name}`)}.pdf"`)
      .header('cache-control', 'no-store')
      .send(bytes)
  })

  const asked = (app: FastifyInstance, request: FastifyRequest) => {
    const vehicle = vehicleFrom(app, request)
    const day = wantedDay(app, request)
    const { document } = judgedOn(app, request, vehicle.id, day)
    const stock = stocksOf(
      app.db,
      request.actor,
      document.parts.map((part) => part.key),
    )
    const { box: key } = request.params as { box: string }
    const box = fuseBoxesOf(solvedOf(document), (part) => stock(part).inStock).find((one) => one.key === key)
    if (!box) throw new NotFound('No fuse or breaker is recorded there.')
    const { size } = request.query as { size?: unknown }
    return { vehicle, box, day, size: cardNamed(size) }
  }
}
