import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import type { Result, SavedEntry } from '../../records/contract.ts'
import { offersFor } from '../../records/due-defaults.ts'
import { failuresOf } from '../../records/fittings.ts'
import { newId } from '../../records/ids.ts'
import { correct, correctionsOf, entryOf, withdraw } from '../../records/journal.ts'
import { partsById } from '../../records/part-rows.ts'
import { photosOf } from '../../records/photos.ts'
import { reportOn } from '../../records/projection.ts'
import { currencyOf } from '../../records/settings.ts'
import { stateOn } from '../../records/state.ts'
import { vehicleOf } from '../../records/vehicles.ts'
import { aboutEntry, lastSaveOf, latestVersionOf, undoCorrection, versionsOf } from '../../records/versions.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { entrySavedBy, onceOf } from '../shared/once.ts'
import { photoCard } from '../shared/photo-cards.ts'
import { todayOf, trailOf } from '../shared/vehicle-facts.ts'
import { afterView } from './after.ts'
import { carriedOver, clashOf } from './clash.ts'
import { correctionView, readCorrection } from './correction.ts'
import { versionsView } from './versions-view.ts'
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
    const last = lastSaveOf(app.db, app.clock, request.actor, vehicle.id)
    const said = { timeZone: app.config.timeZone, currency: currencyOf(app.db, request.actor) }
    const versions = versionsView(versionsOf(app.db, request.actor, entry.id), { id: entry.id, ...said })
    const facts = view({ entry, vehicle, marks, document, report, onItsDay, faults, last, versions, ...said })
    const cards = photosOf(app.db, request.actor, { entryId: entry.id }).map((photo) => photoCard(photo, app.config.data))
    const all = { ...facts, ...afterwards(request, entry), cards }
    return reply.page('entry/show', all, { title: entry.title, status, section: 'vehicles', trail })
  }
  /** What may be put on the list after it: what the trade looks at again, and every other place that holds a part that failed. */
  const afterwards = (request: FastifyRequest, entry: SavedEntry) => {
    const state = stateOn(app.db, request.actor, entry.vehicleId)
    const parts = partsById(app.db, request.actor)
    const failures = entry.withdrawn ? [] : failuresOf(app.db, request.actor, entry.id)
    return afterView({ offers: offersFor({ entry, state, parts }), failures, partName: (id) => parts.get(id)?.name ?? 'this part' })
  }
  const showCorrection = (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { readonly form: FormReader | null; readonly faults: readonly ShownFault[]; readonly status: number },
  ) => {
    const { entry, vehicle, marks } = found(request)
    if (entry.withdrawn || marks.replacedBy !== null) throw new NotFound('This version cannot be edited: it no longer counts.')
    return reply.page(
      'entry/correction',
      correctionView({ entry, once: onceOf(app, given.form ?? new FormReader({})), currency: currencyOf(app.db, request.actor), ...given }),
      {
        title: `Edit: ${entry.title}`,
        ...{ heading: 'Edit an entry', status: given.status, section: 'vehicles' },
        trail: trailOf(vehicle, { href: `/entries/${entry.id}`, label: entry.title }),
      },
    )
  }

  /** The version it was opened on is no longer the one in force: nothing is overwritten, and what was typed stands ready to be saved on the latest. */
  const showClash = (request: FastifyRequest, reply: FastifyReply, form: FormReader) => {
    const { entry: opened, vehicle } = found(request)
    const now = latestVersionOf(app.db, request.actor, opened.id)
    if (!now) throw new NotFound('There is no such entry here.')
    const { entry: latest, isWithdrawn } = now
    const by = isWithdrawn && latest.id === opened.id ? 'withdrawn' : 'changed'
    const faults = [
      {
        field: '',
        label: '',
        says: `This entry was ${by} while the form was open. Nothing of it is overwritten.`,
        link: `/entries/${latest.id}`,
      },
    ]
    const currency = currencyOf(app.db, request.actor)
    const clash = clashOf({ opened, latest, form, timeZone: app.config.timeZone, currency })
    const facts = {
      entry: latest,
      form: carriedOver({ opened, latest, form }),
      faults,
      once: newId(app.clock),
      currency,
      clash,
      isWithdrawn,
    }
    return reply.page('entry/correction', correctionView(facts), {
      title: `Edit: ${latest.title}`,
      ...{ heading: 'Edit an entry', status: 409, section: 'vehicles' },
      trail: trailOf(vehicle, { href: `/entries/${latest.id}`, label: latest.title }),
    })
  }
  const answered = (request: FastifyRequest, reply: FastifyReply, done: Result<SavedEntry>) =>
    done.ok
      ? reply.redirect(`/entries/${done.value.id}`, 303)
      : show(request, reply, refusalFaults(done.refusals), done.refusals[0]?.code === 'already-corrected' ? 409 : 422)

  app.get('/entries/:id', async (request, reply) => {
    const { entry } = found(request)
    const about = aboutEntry(app.db, request.actor, entry.id)
    return about === entry.id ? show(request, reply, []) : reply.redirect(`/entries/${about}`, 303)
  })

  app.post('/entries/:id/withdrawals', async (request, reply) => {
    const { entry, marks } = found(request)
    // Pressed twice, it is withdrawn once.
    if (marks.withdrawnBy !== null) return reply.redirect(`/entries/${entry.id}`, 303)
    return answered(request, reply, withdraw(app.db, app.clock, request.actor, entry.id))
  })

  app.post('/entries/:id/restorations', async (request, reply) => {
    const { entry, marks } = found(request)
    if (marks.withdrawnBy === null) return reply.redirect(`/entries/${entry.id}`, 303)
    return answered(request, reply, withdraw(app.db, app.clock, request.actor, marks.withdrawnBy))
  })

  app.post('/entries/:id/earlier-versions', async (request, reply) =>
    answered(request, reply, undoCorrection(app.db, app.clock, request.actor, found(request).entry.id)),
  )

  app.get('/entries/:id/correction', async (request, reply) => showCorrection(request, reply, { form: null, faults: [], status: 200 }))

  app.post('/entries/:id/corrections', async (request, reply) => {
    const { entry } = found(request)
    const form = new FormReader(request.body)
    const before = entrySavedBy(app, request, form)
    if (before) return reply.redirect(`/entries/${before.id}`, 303)
    if (entry.withdrawn) return showClash(request, reply, form)
    const next = readCorrection(form, { entry, today: todayOf(app) })
    if (form.faults.length > 0) return showCorrection(request, reply, { form, faults: formFaults(form.faults), status: 422 })
    const saved = correct(app.db, app.clock, request.actor, entry.id, next)
    return saved.ok
      ? reply.redirect(`/entries/${saved.value.id}`, 303)
      : showCorrection(request, reply, { form, faults: refusalFaults(saved.refusals), status: 422 })
  })
}
