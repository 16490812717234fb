import type { FastifyInstance, FastifyRequest } from 'fastify'
import { fieldsOf, partKind } from '../../engine/parts/index.ts'
import { partOf, revisePart, type StoredPart, whereFitted } from '../../records/parts.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { dateWords, figure } from '../../web/format.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { fieldViews, readRatings } from '../shared/rating-fields.ts'

export function register(app: FastifyInstance): void {
  const partFrom = (request: FastifyRequest) => {
    const part = partOf(app.db, request.actor, (request.params as { id: string }).id)
    if (!part) throw new NotFound('There is no such part here.')
    return part
  }
  const view = (request: FastifyRequest, part: StoredPart, given: { faults: readonly ShownFault[]; form: FormReader | null }) => ({
    id: part.id,
    faults: given.faults,
    kind: partKind(part.kind)?.title ?? part.kind,
    stock: `${part.inStock} in stock${part.place ? `, ${part.place}` : ''}`,
    name: given.form ? given.form.typed('name') : part.name,
    ratings: ratingRows(part),
    where: whereFitted(app.db, request.actor, part.id).map((one) => ({
      href: `/vehicles/${one.vehicleId}/components/${one.component}`,
      words: `${one.componentName}, ${one.vehicleName}`,
      when: `from ${dateWords(one.from)}${one.until ? ` to ${dateWords(one.until)}` : ''}`,
      now: one.until === null,
    })),
    fields: fieldViews(part.kind, { typed: given.form ? (name) => given.form?.typed(name) ?? '' : (name) => typedFrom(part, name) }),
  })

  app.get('/parts/:id', async (request, reply) => {
    const part = partFrom(request)
    return reply.page('part/show', view(request, part, { faults: [], form: null }), { title: part.name, section: 'shelf' })
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
    if (form.faults.length > 0)
      return reply.page('part/show', view(request, part, { faults: formFaults(form.faults), form }), { title: part.name, status: 422 })
    const keptEvidence = Object.fromEntries(Object.entries(part.evidence ?? {}).filter(([field]) => field in kept))
    const done = revisePart(app.db, app.clock, request.actor, part.id, {
      name,
      ratings: { ...kept, ...read.ratings },
      evidence: { ...keptEvidence, ...read.evidence },
    })
    if (done.ok) return reply.redirect(`/parts/${part.id}`, 303)
    return reply.page('part/show', view(request, part, { faults: refusalFaults(done.refusals), form }), { title: part.name, status: 422 })
  })
}

function ratingRows(part: StoredPart) {
  return fieldsOf(part.kind).flatMap((field) => {
    const value = part.ratings[field.name]
    if (value === undefined && (field.type === 'rows' || field.type === 'size' || field.type === 'flag' || !('basic' in field))) return []
    const grade = part.evidence?.[field.name] ?? 'assumed'
    const words =
      value === undefined
        ? 'not known'
        : typeof value === 'number'
          ? figure(value, field.type === 'number' ? field.unit : '')
          : typeof value === 'object'
            ? Array.isArray(value)
              ? `${value.length} rows`
              : `${(value as { system: string }).system} ${(value as { name: string }).name}`
            : String(value)
    return [
      {
        label: field.label,
        value: words,
        grade: value === undefined ? '' : grade,
        inked: ['datasheet', 'marked', 'measured'].includes(grade),
      },
    ]
  })
}

function typedFrom(part: StoredPart, name: string): string {
  if (name.startsWith('grade-')) return part.evidence?.[name.slice('grade-'.length)] ?? 'assumed'
  const value = part.ratings[name]
  return value === undefined || typeof value === 'object' ? '' : typeof value === 'boolean' ? (value ? 'yes' : 'no') : String(value)
}
