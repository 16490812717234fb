import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { fieldsOf, partKind } from '../../engine/parts/index.ts'
import { decisionsAboutPart } from '../../records/decisions.ts'
import { whereFitted } from '../../records/fittings.ts'
import { leftoversOf } from '../../records/leftovers.ts'
import { partOf, revisePart, type StoredPart } from '../../records/parts.ts'
import { purchasesOf } from '../../records/purchases.ts'
import { currencyOf } from '../../records/settings.ts'
import { countStock } from '../../records/stock.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { isInked } from '../shared/finding-view.ts'
import { fieldViews, ratingField, ratingLabel, readRatings } from '../shared/rating-fields.ts'
import { ratingWords } from '../shared/rating-words.ts'
import { todayOf } from '../shared/vehicle-facts.ts'
import { keepingView } from './keeping.ts'
import { registerKeeping } from './keeping-routes.ts'

/** `form`: figures typed and refused; `counting`, `keeping`: a count, or a purchase or piece, typed and refused. */
type Shown = {
  readonly faults: readonly ShownFault[]
  readonly form: FormReader | null
  readonly counting: FormReader | null
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
    fields: fieldViews(part.kind, { typed: given.form ? (name) => given.form?.typed(name) ?? '' : (name) => typedFrom(part, name) }),
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
    const done = countStock(app.db, app.clock, request.actor, part.id, count, place)
    return done.ok ? reply.redirect(`/parts/${part.id}`, 303) : again(refusalFaults(done.refusals))
  })

  app.post('/parts/:id/revisions', async (request, reply) => {
    const part = partFrom(request)
    const form = new FormReader(request.body)
    const name = form.text('name', { max: 200, required: 'What is it called?' })
    const read = readRatings(form, part.kind)
    // Figures that the form does not show (rows, named sizes) stay as they were.
    const kept = Object.fromEntries(
      Object.entries(part.ratings).filter(([field]) =>
        fieldsOf(part.kind).some((one) => one.name === field && (one.type === 'rows' || one.type === 'size')),
      ),
    )
    const again = (faults: readonly ShownFault[]) => show(request, reply, { faults, form, counting: null, status: 422 })
    if (form.faults.length > 0) return again(formFaults(form.faults, ratingLabel(part.kind)))
    const keptEvidence = Object.fromEntries(Object.entries(part.evidence ?? {}).filter(([field]) => field in kept))
    const done = revisePart(app.db, app.clock, request.actor, part.id, {
      name,
      ratings: { ...kept, ...read.ratings },
      evidence: { ...keptEvidence, ...read.evidence },
    })
    return done.ok
      ? reply.redirect(`/parts/${part.id}`, 303)
      : again(refusalFaults(done.refusals, { field: ratingField, label: ratingLabel(part.kind) }))
  })
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

function typedFrom(part: StoredPart, name: string): string {
  if (name.startsWith('grade-')) return part.evidence?.[name.slice('grade-'.length)] ?? 'assumed'
  const value = part.ratings[name]
  return value === undefined || typeof value === 'object' ? '' : typeof value === 'boolean' ? (value ? 'yes' : 'no') : String(value)
}
