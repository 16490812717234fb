import type { FastifyInstance, FastifyRequest } from 'fastify'
import { partKind, partKinds } from '../../engine/parts/index.ts'
import { createPart, partOf, partsFrom, type StoredPart, unknownRatings } from '../../records/parts.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { onceId, onceOf } from '../shared/once.ts'
import { option } from '../shared/options.ts'
import { type Span, spanOf } from '../shared/paging.ts'
import { fieldViews, ratingField, ratingLabel, ratingsUnseen, readRatings, typedFrom } from '../shared/rating-fields.ts'
import { counted } from '../shared/tried.ts'

const NEW_PART = { title: 'A new part', section: 'shelf', trail: [{ href: '/shelf', label: 'Shelf' }] } as const

export function register(app: FastifyInstance): void {
  app.get('/shelf', async (request, reply) => {
    const { contains, page } = request.query as Record<string, unknown>
    const sought = typeof contains === 'string' ? contains.trim().slice(0, 200) : ''
    const address = (to: number) => `/shelf?page=${to}${sought === '' ? '' : `&contains=${encodeURIComponent(sought)}`}`
    const range = (count: number): Span => spanOf(count, { asked: page, things: ['part', 'parts'], address })
    const found = partsFrom(app.db, request.actor, { contains: sought, range })
    const { count, before, after } = range(found.count)
    const rows = found.parts.map((part) => ({
      id: part.id,
      name: part.name,
      kind: partKind(part.kind)?.title ?? part.kind,
      stock: part.inStock === 0 ? '–' : String(part.inStock),
      place: part.place ?? '',
    }))
    const unknowns = unknownRatings(app.db, request.actor)
      .slice(0, 12)
      .map((one) => ({
        id: one.partId,
        name: one.partName,
        label: one.label,
        settles: counted(one.settles, 'verdict'),
      }))
    const view = { rows, sought, unknowns, count, earlier: before, later: after }
    return reply.page('shelf/show', view, { title: 'Shelf', section: 'shelf' })
  })

  const blank = (form: FormReader, faults: readonly ShownFault[], like: StoredPart | null) => {
    const kind = partKind(form.typed('kind'))?.id ?? like?.kind ?? ''
    const copied = like !== null && !form.body.kind
    return {
      faults,
      once: onceOf(app, form),
      kind,
      name: copied ? like.name : form.typed('name'),
      like: like?.id ?? '',
      likeName: like?.name ?? '',
      kinds: partKinds.map((one) => option(one.id, one.title, kind)),
      fields: kind === '' ? [] : fieldViews(kind, { typed: copied ? typedFrom(like) : (name) => form.typed(name) }),
    }
  }
  /** The part that a new one is to be like, if it is one of this shelf. */
  const likeOf = (request: FastifyRequest, form: FormReader) =>
    form.typed('like') === '' ? null : partOf(app.db, request.actor, form.typed('like'))

  app.get('/shelf/new', async (request, reply) => {
    const form = new FormReader(request.query)
    return reply.page('shelf/new', blank(form, [], likeOf(request, form)), NEW_PART)
  })

  app.post('/parts', async (request, reply) => {
    const form = new FormReader(request.body)
    const kind = form.text('kind', { required: 'What kind of part?' })
    if (kind !== '' && !partKind(kind)) form.fault('kind', 'There is no such kind of part.')
    const name = form.text('name', { max: 200, required: 'What is it called?' })
    const read = readRatings(form, kind)
    const like = likeOf(request, form)
    const unseen = like?.kind === kind ? ratingsUnseen(like) : { ratings: {}, evidence: {} }
    const ratings = { ...unseen.ratings, ...read.ratings }
    const evidence = { ...unseen.evidence, ...read.evidence }
    if (form.faults.length === 0) {
      const made = createPart(app.db, app.clock, request.actor, { ...onceId(app, request, form), kind, name, ratings, evidence })
      if (made.ok) return reply.redirect(`/parts/${made.value.id}`, 303)
      const faults = refusalFaults(made.refusals, { field: ratingField, label: ratingLabel(kind) })
      return reply.page('shelf/new', blank(form, faults, like), { ...NEW_PART, status: 422 })
    }
    return reply.page('shelf/new', blank(form, formFaults(form.faults, ratingLabel(kind)), like), { ...NEW_PART, status: 422 })
  })
}
