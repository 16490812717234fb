import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { liveEntries, wholeRows } from '../../records/entry-rows.ts'
import { newId } from '../../records/ids.ts'
import { entryOf } from '../../records/journal.ts'
import { previewJob, recordJob } from '../../records/logged-job.ts'
import { partChoices } from '../../records/part-choices.ts'
import { partOf } from '../../records/parts.ts'
import { photoOf } from '../../records/photos.ts'
import { reportOn } from '../../records/projection.ts'
import { currencyOf } from '../../records/settings.ts'
import { stateOn } from '../../records/state.ts'
import { FormReader } from '../../web/form.ts'
import { localPath, tellSaved } from '../../web/session.ts'
import { formFaults, refusalFaults } from '../shared/faults.ts'
import { entrySavedBy } from '../shared/once.ts'
import { type Answer, triedView } from '../shared/tried.ts'
import { todayOf, trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { choicesView, MOST_CHOICES } from './choices.ts'
import { type Given, NEW_PART, photoIds, readLog } from './form.ts'
import { fieldsLike } from './like.ts'
import { fieldLabel, fieldOf, strandedViews, view } from './view.ts'

const NOTHING: Answer = { faults: [], tried: null }
const LATELY = 20
type Shown = Answer & { readonly form: FormReader; readonly status: number; readonly fresh?: boolean; readonly back?: boolean }

export function register(app: FastifyInstance): void {
  /** The vehicle as it stood on the day that was typed, or as it stands, and the parts that are spoken of. */
  const factsFrom = (request: FastifyRequest, form: FormReader): Given & { readonly vehicle: ReturnType<typeof vehicleFrom> } => {
    const vehicle = vehicleFrom(app, request)
    const today = todayOf(app)
    const typed = form.typed('on')
    const on = /^\d{4}-\d{2}-\d{2}$/.test(typed) && typed < today ? typed : undefined
    const state = stateOn(app.db, request.actor, vehicle.id, on)
    const inPlace = state.components.get(form.typed('component'))?.part
    const readings = liveEntries(app.db, request.actor, vehicle.id).flatMap(({ effectiveOn, odometer_km }) =>
      odometer_km === null ? [] : [{ on: effectiveOn, odometer_km }],
    )
    const part = form.typed('part') === NEW_PART ? null : partOf(app.db, request.actor, form.typed('part'))
    return { vehicle, state, part, kindInPlace: kindOf(request, inPlace), readings, today }
  }
  const kindOf = (request: FastifyRequest, part: string | undefined) =>
    part === undefined ? '' : (partOf(app.db, request.actor, part)?.kind ?? '')
  const offeredTo = (request: FastifyRequest, form: FormReader, kind: string) =>
    partChoices(app.db, request.actor, {
      ...{ words: form.typed('q').slice(0, 100), picked: form.typed('part'), limit: MOST_CHOICES },
      kind: form.typed('verb') === 'fitted' ? '' : kind,
    })
  const show = (request: FastifyRequest, reply: FastifyReply, given: Shown) => {
    const facts = factsFrom(request, given.form)
    const { vehicle, kindInPlace } = facts
    const latest = liveEntries(app.db, request.actor, vehicle.id).slice(-LATELY).reverse()
    const lately = wholeRows(app.db, request.actor, { vehicleId: vehicle.id, ids: latest.map((row) => row.id) })
    const shown = view({
      ...{ ...facts, fresh: false, back: false, ...given },
      offered: offeredTo(request, given.form, kindInPlace),
      currency: currencyOf(app.db, request.actor),
      sent: photoIds(given.form).flatMap((id) => photoOf(app.db, request.actor, id) ?? []),
      lately: lately.flatMap((entry) => entry.changes),
      kinds: new Map(reportOn(app.db, request.actor, vehicle.id).document.parts.map((part) => [part.key, part.kind])),
      at: addressOf(request, given.form, vehicle.id),
      once: given.form.typed('once') || request.oncePlace || newId(app.clock),
    })
    return reply.page('log/show', shown, {
      ...{ title: `Log in ${vehicle.name}`, heading: 'Log a job', status: given.status, section: 'vehicles' },
      ...{ trail: trailOf(vehicle), swaps: true, scripts: ['log'] },
    })
  }
  const tryOut = (request: FastifyRequest, form: FormReader): Answer => {
    const job = readLog(form, factsFrom(request, form))
    if (form.faults.length > 0) return { faults: formFaults(form.faults, fieldLabel), tried: null }
    const seen = previewJob(app.db, request.actor, job)
    if (!seen.ok) return { faults: refusalFaults(seen.refusals, { field: fieldOf, label: fieldLabel }), tried: null }
    const records = job.newParts.map((one) => `Would also add the part “${one.name}”.`).join(' ')
    return { faults: [], tried: triedView(seen.value, { vehicleId: job.vehicleId, records }) }
  }

  app.get('/vehicles/:id/entries/new', { config: { isKept: true } }, async (request, reply) => {
    const { kept: by, like } = request.query as Record<string, unknown>
    const kept = app.keptForms.find(request.actor.personId, by)
    const entry = typeof like === 'string' ? entryOf(app.db, request.actor, like) : null
    const form = new FormReader(kept ?? (entry ? fieldsLike(entry) : request.query))
    return show(request, reply, { form, ...NOTHING, status: 200, fresh: kept === null, back: kept !== null })
  })

  app.get('/vehicles/:id/entries/part-choices', async (request, reply) => {
    const form = new FormReader(request.query)
    const { kindInPlace: kind } = factsFrom(request, form)
    const words = form.typed('q').trim().slice(0, 100)
    return reply.fragment('log/_narrowed', choicesView({ ...offeredTo(request, form, kind), kind, picked: form.typed('part'), words }))
  })

  app.post('/vehicles/:id/entry-previews', async (request, reply) => {
    const form = new FormReader(request.body)
    const answer = tryOut(request, form)
    const stranded = strandedViews(form, factsFrom(request, form))
    return reply.fragment('log/_tried', { ...answer, stranded }, { status: answer.tried ? 200 : 422 })
  })

  app.post('/vehicles/:id/entries', async (request, reply) => {
    const form = new FormReader(request.body)
    const act = form.typed('do')
    if (act === 'narrow' || act === 'show') return show(request, reply, { form, ...NOTHING, status: 200 })
    if (act === 'try') {
      const answer = tryOut(request, form)
      return show(request, reply, { form, ...answer, status: answer.tried ? 200 : 422 })
    }
    const before = entrySavedBy(app, request, form)
    if (before) return reply.redirect(`/entries/${before.id}`, 303)
    const job = readLog(form, factsFrom(request, form))
    if (form.faults.length > 0) return show(request, reply, { form, faults: formFaults(form.faults, fieldLabel), tried: null, status: 422 })
    const saved = recordJob(app.db, app.clock, request.actor, job)
    if (!saved.ok)
      return show(request, reply, {
        ...{ form, tried: null, status: 422 },
        faults: refusalFaults(saved.refusals, { field: fieldOf, label: fieldLabel }),
      })
    tellSaved(request, reply, form.typed('once'))
    return reply.redirect(`/entries/${saved.value.id}`, 303)
  })
}

/** Where this form is opened, with what it was opened for; a form sent says it itself. */
function addressOf(request: FastifyRequest, form: FormReader, vehicleId: string): string {
  const own = `/vehicles/${vehicleId}/entries/new`
  const sent = localPath(form.typed('_at'))
  if (sent.split('?')[0] === own) return sent
  if (request.method !== 'GET') return own
  const [, query = ''] = request.url.split('?')
  const fields = new URLSearchParams(query)
  fields.delete('kept')
  return fields.size === 0 ? own : `${own}?${fields}`
}
