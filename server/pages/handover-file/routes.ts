import type { FastifyInstance, FastifyRequest } from 'fastify'
import { standingEntries } from '../../records/journal.ts'
import { privateMask } from '../../records/private-mask.ts'
import { currencyOf } from '../../records/settings.ts'
import type { Private } from '../../records/shares.ts'
import { solvedOf } from '../../records/solved.ts'
import { stateOn } from '../../records/state.ts'
import { stocksOf } from '../../records/stock.ts'
import { thenFoundOf } from '../../records/then-found.ts'
import { dateWords } from '../../web/format.ts'
import { FormReader } from '../../web/form.ts'
import { fuseBoxesOf } from '../shared/fuse-boxes.ts'
import { odometerOn } from '../shared/odometer-on.ts'
import { fileNameOf, wantedDay } from '../shared/on-paper.ts'
import { type Paper, pdfOf } from '../shared/pdf.ts'
import { judgedOn, trailOn, vehicleFrom } from '../shared/vehicle-facts.ts'
import { contentsOf } from './contents.ts'
import { drawingsOf } from './drawings.ts'
import { type Facts, ON_PAPER } from './facts.ts'
import { leadOf, view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/vehicles/:id/handover-file', async (request, reply) => {
    const { facts, day } = await factsFrom(app, request)
    return reply.page('handover-file/show', view({ facts, day, sections: await contentsOf(facts) }), {
      title: `Handover file of ${facts.vehicle.name}`,
      section: 'vehicles',
      trail: trailOn(facts.vehicle, day, { href: `/vehicles/${facts.vehicle.id}/on-paper`, label: 'On paper' }),
      styles: ['on-paper'],
    })
  })

  app.get('/vehicles/:id/handover-file.pdf', async (request, reply) => {
    const { facts } = await factsFrom(app, request)
    const { name } = facts.vehicle
    const paper: Paper = new FormReader(request.query).typed('paper') === 'letter' ? 'letter' : 'a4'
    const bytes = await pdfOf({
      title: `Handover file of ${name}`,
      lead: leadOf(facts),
      foot: `${name}, ${dateWords(facts.on)}`,
      sections: await contentsOf(facts),
      paper,
      at: app.clock.now(),
    })
    return reply
      .type('application/pdf')
      .header('content-disposition', `attachment; filename="${fileNameOf(`handover ${name} ${facts.on}`)}.pdf"`)
      .header('cache-control', 'no-store')
      .send(bytes)
  })
}

async function factsFrom(app: FastifyInstance, request: FastifyRequest) {
  const found = vehicleFrom(app, request)
  const day = wantedDay(app, request)
  const { document, report } = judgedOn(app, request, found.id, day)
  const circuit = solvedOf(document)
  const query = new FormReader(request.query)
  const ticked = new Set<Private>(ON_PAPER.filter((field) => query.ticked(field)))
  const mask = privateMask(app.db, {
    householdId: request.actor.householdId,
    vehicleId: found.id,
    lets: (field) => ticked.has(field),
  })
  const known = odometerOn(app, request, found, day)
  const vehicle = { id: known.id, name: mask.name(known.name), odometer_km: known.odometer_km }
  const stock = stocksOf(
    app.db,
    request.actor,
    document.parts.map((part) => part.key),
  )
  const facts: Facts = {
    vehicle,
    on: day.on,
    state: stateOn(app.db, request.actor, vehicle.id, day.on),
    document,
    report,
    circuit,
    boxes: fuseBoxesOf(circuit, (part) => stock(part).inStock),
    thenFound: thenFoundOf(app.db, request.actor, vehicle.id),
    currency: currencyOf(app.db, request.actor),
    // As the journal stands at this moment; to tell thousands of entries takes a while, and who saves meanwhile goes first.
    entries: await standingEntries(app.db, request.actor, { vehicleId: vehicle.id, until: day.on }),
    drawings: await drawingsOf(app, { vehicle, document, on: day.on, mask }),
    ticked,
    mask,
  }
  return { facts, day }
}
