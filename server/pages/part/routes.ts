import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { fieldsOf, partKind } from '../../engine/parts/index.ts'
import { countOnce, lastCountId } from '../../records/count-once.ts'
import { decisionsAboutPart } from '../../records/decisions.ts'
import { whereFitted } from '../../records/fittings.ts'
import { leftoversOf } from '../../records/leftovers.ts'
import { revisionMarksOf } from '../../records/part-versions.ts'
import { partOf, revisePart, type StoredPart } from '../../records/parts.ts'
import { photosOf } from '../../records/photos.ts'
import { purchasesOf } from '../../records/purchases.ts'
import { currencyOf } from '../../records/settings.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { isInked } from '../shared/finding-view.ts'
import { onceOf } from '../shared/once.ts'
import { photoCard } from '../shared/photo-cards.ts'
import { fieldViews, ratingField, ratingLabel, ratingsUnseen, readRatings, typedFrom } from '../shared/rating-fields.ts'
import { ratingWords } from '../shared/rating-words.ts'
import { todayOf } from '../shared/vehicle-facts.ts'
import { type ClashRow, clashRows } from './clash.ts'
import { keepingView } from './keeping.ts'
import { registerKeeping } from './keeping-routes.ts'

/** `form`: figures typed and refused; `counting`, `keeping`: a count, or a purchase or piece, typed and refused. */
type Shown = {
  readonly faults: readonly ShownFault[]
  readonly form: FormReader | null
  readonly counting: FormReader | null
  readonly clash?: readonly ClashRow[]
  readonly keeping?: FormReader
}

export function register(app: FastifyInstance): void {
  const partFrom = (request: FastifyRequest) => {
    const part = partOf(app.db, request.actor, (request.params as { id: string }).id)
    if (!part) throw new NotFound('There is no such part here.')
    return part
  }
  const keepingOf = (request: FastifyRequest, part: StoredPart, form: FormReader | null) => {
    const ask = [app.db, request.actor, part.id] as const
    const kept = { partId: part.id, kind: part.kind, currency: currencyOf(app.db, request.actor), today: todayOf(app) }
    const lists = { fittings: whereFitted(...ask), purchases: purchasesOf(...ask), leftovers: leftoversOf(...ask) }
    return keepingView({ ...kept, ...lists, decisions: decisionsAboutPart(...ask) }, form)
  }
  const view = (request: FastifyRequest, part: StoredPart, given: Shown) => ({
    ...keepingOf(request, part, given.keeping ?? null),
    id: part.id,
    once: onceOf(app, given.keeping ?? new FormReader({})),
    basedOn: part.revisions.at(-1)?.id ?? '',
    countedOn: lastCountId(app.db, request.actor, part.id),
    clash: given.clash ?? [],
    faults: given.faults,
    counting: given.counting?.typed('count') ?? String(part.inStock),
    place: given.counting?.typed('place') ?? part.place ?? '',
    facts: [
      { label: 'Kind', value: partKind(part.kind)?.title ?? part.kind },
      { label: 'On the shelf', value: String(part.inStock) },
      { label: 'Where', value: part.place ?? 'not said' },
      { label: 'Versions of its figures', value: String(part.revisions.length) },
    ],
    name: given.form ? given.form.typed('name') : part.name,
    open: given.form !== null,
    ratings: ratingRows(part),
    cards: photosOf(app.db, request.actor, { partId: part.id }).map((photo) => photoCard(photo, app.config.data)),
    fields: fieldViews(part.kind, { typed: given.form ? (name) => given.form?.typed(name) ?? '' : (name) => typedFrom(part)(name) }),
  })

  const show = (request: FastifyRequest, reply: FastifyReply, given: Shown & { readonly status: number }) => {
    const part = partFrom(request)
    return reply.page('part/show', view(request, part, given), {
      ...{ title: part.name, status: given.status, section: 'shelf' },
      trail: [{ href: '/shelf', label: 'Shelf' }],
    })
  }

  app.get('/parts/:id', async (request, reply) => show(request, reply, { faults: [], form: null, counting: null, status: 200 }))

  registerKeeping(app, {
    partFrom,
    again: (request, reply, form, faults) => show(request, reply, { faults, form: null, counting: null, keeping: form, status: 422 }),
  })

  app.post('/parts/:id/counts', async (request, reply) => {
    const part = partFrom(request)
    const form = new FormReader(request.body)
    const again = (faults: readonly ShownFault[]) => show(request, reply, { faults, form: null, counting: form, status: 422 })
    const count = form.number('count', { min: 0, max: 1e6, whole: true })
    if (count === null && form.faults.length === 0) form.fault('count', 'How many are there?')
    const place = form.text('place', { max: 200 })
    if (form.faults.length > 0 || count === null) return again(formFaults(form.faults))
    const done = countOnce(app.db, app.clock, request.actor, { partId: part.id, count, place, basedOn: basedOn(form) })
    return done.ok ? reply.redirect(`/parts/${part.id}`, 303) : again(refusalFaults(done.refusals))
  })

  app.post('/parts/:id/revisions', async (request, reply) => {
    const part = partFrom(request)
    const form = new FormReader(request.body)
    const name = form.text('name', { max: 200, required: 'What is it called?' })
    const read = readRatings(form, part.kind)
    const unseen = ratingsUnseen(part)
    const again = (faults: readonly ShownFault[]) => show(request, reply, { faults, form, counting: null, status: 422 })
    if (form.faults.length > 0) return again(formFaults(form.faults, ratingLabel(part.kind)))
    const done = revisePart(app.db, app.clock, request.actor, part.id, {
      name,
      notes: part.notes,
      basedOn: basedOn(form) ?? undefined,
      ratings: { ...unseen.ratings, ...read.ratings },
      evidence: { ...unseen.evidence, ...read.evidence },
    })
    if (done.ok) return reply.redirect(`/parts/${part.id}`, 303)
    const faults = refusalFaults(done.refusals, { field: ratingField, label: ratingLabel(part.kind) })
    if (done.refusals[0]?.code !== 'changed-meanwhile') return again(faults)
    const marks = revisionMarksOf(app.db, request.actor, part.id)
    const clash = clashRows({ part, form, basedOn: basedOn(form) ?? '', marks, timeZone: app.config.timeZone })
    return show(request, reply, { faults, form, counting: null, clash, status: 409 })
  })
}

/** The version that a form was opened on; null where it does not say. */
function basedOn(form: FormReader): string | null {
  return typeof form.body.basedOn === 'string' ? form.typed('basedOn').slice(0, 40) : null
}

function ratingRows(part: StoredPart) {
  return fieldsOf(part.kind).flatMap((field) => {
    const value = part.ratings[field.name]
    if (value === undefined && (field.type === 'rows' || field.type === 'size' || field.type === 'flag' || !('basic' in field))) return []
    const grade = part.evidence?.[field.name] ?? 'assumed'
    return [
      {
        label: field.label,
        value: ratingWords(field, value),
        grade: value === undefined ? '' : grade,
        inked: isInked(grade),
      },
    ]
  })
}
