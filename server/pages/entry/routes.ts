import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { correct, correctionsOf, entryOf, withdraw } from '../../records/journal.ts'
import { photosOf } from '../../records/photos.ts'
import { reportOn } from '../../records/projection.ts'
import { vehicleOf } from '../../records/vehicles.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { photoCard } from '../shared/photo-cards.ts'
import { todayOf, trailOf } from '../shared/vehicle-facts.ts'
import { correctionView, readCorrection } from './correction.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  const found = (request: FastifyRequest) => {
    const { id } = request.params as { id: string }
    const entry = entryOf(app.db, request.actor, id)
    const vehicle = entry && vehicleOf(app.db, request.actor, entry.vehicleId)
    const marks = correctionsOf(app.db, request.actor, id)
    if (!entry || !vehicle || !marks) throw new NotFound('There is no such entry here.')
    return { entry, vehicle, marks }
  }
  const show = (request: FastifyRequest, reply: FastifyReply, faults: readonly ShownFault[], status = 200) => {
    const { entry, vehicle, marks } = found(request)
    const { document, report } = reportOn(app.db, request.actor, vehicle.id)
    const trail = trailOf(vehicle, { href: `/vehicles/${vehicle.id}/journal`, label: 'Journal' })
    const onItsDay = reportOn(app.db, request.actor, vehicle.id, entry.effectiveOn).report
    const facts = view({ entry, vehicle, marks, document, report, onItsDay, faults })
    const cards = photosOf(app.db, request.actor, { entryId: entry.id }).map(photoCard)
    return reply.page('entry/show', { ...facts, cards }, { title: entry.title, status, section: 'vehicles', trail })
  }
  const showCorrection = (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { readonly form: FormReader | null; readonly faults: readonly ShownFault[]; readonly status: number },
  ) => {
    const { entry, vehicle, marks } = found(request)
    if (entry.withdrawn || marks.replacedBy !== null) throw new NotFound('This version cannot be edited: it no longer counts.')
    return reply.page('entry/correction', correctionView({ entry, ...given }), {
      title: `Edit: ${entry.title}`,
      ...{ heading: 'Edit an entry', status: given.status, section: 'vehicles' },
      trail: trailOf(vehicle, { href: `/entries/${entry.id}`, label: entry.title }),
    })
  }

  app.get('/entries/:id', async (request, reply) => show(request, reply, []))

  app.post('/entries/:id/withdrawals', async (request, reply) => {
    const { entry } = found(request)
    const done = withdraw(app.db, app.clock, request.actor, entry.id)
    return done.ok ? reply.redirect(`/entries/${entry.id}`, 303) : show(request, reply, refusalFaults(done.refusals), 422)
  })

  app.post('/entries/:id/restorations', async (request, reply) => {
    const { entry, marks } = found(request)
    if (marks.withdrawnBy === null) return reply.redirect(`/entries/${entry.id}`, 303)
    const done = withdraw(app.db, app.clock, request.actor, marks.withdrawnBy)
    return done.ok ? reply.redirect(`/entries/${entry.id}`, 303) : show(request, reply, refusalFaults(done.refusals), 422)
  })

  app.get('/entries/:id/correction', async (request, reply) => showCorrection(request, reply, { form: null, faults: [], status: 200 }))

  app.post('/entries/:id/corrections', async (request, reply) => {
    const { entry } = found(request)
    const form = new FormReader(request.body)
    const next = readCorrection(form, { entry, today: todayOf(app) })
    if (form.faults.length > 0) return showCorrection(request, reply, { form, faults: formFaults(form.faults), status: 422 })
    const saved = correct(app.db, app.clock, request.actor, entry.id, next)
    return saved.ok
      ? reply.redirect(`/entries/${saved.value.id}`, 303)
      : showCorrection(request, reply, { form, faults: refusalFaults(saved.refusals), status: 422 })
  })
}
