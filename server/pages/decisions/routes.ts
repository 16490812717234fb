/** Why this one: noted from the comparison, from a component or from a part, as an entry of one vehicle. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { append } from '../../records/journal.ts'
import { partChoices } from '../../records/part-choices.ts'
import { partOf, type StoredPart } from '../../records/parts.ts'
import { stateOn } from '../../records/state.ts'
import { vehicleNames } from '../../records/vehicles.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { onceKeyOf } from '../shared/once.ts'
import { todayOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { readDecision } from './form.ts'
import { view } from './view.ts'

const MOST_OFFERED = 50
const MOST_CONSIDERED = 6

export function register(app: FastifyInstance): void {
  type Shown = {
    readonly vehicleId: string
    readonly considered: readonly string[]
    readonly form: FormReader
    readonly faults?: readonly ShownFault[]
  }
  const show = (request: FastifyRequest, reply: FastifyReply, given: Shown) => {
    const vehicles = vehicleNames(app.db, request.actor)
    const vehicle = vehicles.find((one) => one.id === given.vehicleId) ?? (vehicles.length === 1 ? (vehicles[0] ?? null) : null)
    if (given.vehicleId !== '' && vehicle?.id !== given.vehicleId) throw new NotFound('There is no such vehicle here.')
    const state = vehicle && stateOn(app.db, request.actor, vehicle.id)
    const { faults = [], form, considered } = given
    const parts = offered(request, [form.typed('chosen'), ...considered])
    const facts = view({ vehicle, vehicles, state, parts, considered, form, faults, today: todayOf(app) })
    return reply.page('decisions/new', facts, {
      ...{ title: 'Why this one', section: 'shelf', status: faults.length > 0 ? 422 : 200 },
      trail: [{ href: '/shelf', label: 'Shelf' }],
    })
  }

  const named = (request: FastifyRequest, ids: readonly string[]): StoredPart[] =>
    [...new Set(ids)].flatMap((id) => (id === '' ? [] : (partOf(app.db, request.actor, id) ?? [])))
  /** Those spoken of, and of their kind (or of the shelf, where none is) some more: a shelf may hold thousands. */
  const offered = (request: FastifyRequest, ids: readonly string[]): StoredPart[] => {
    const kind = named(request, ids)[0]?.kind ?? ''
    const { found } = partChoices(app.db, request.actor, { words: '', kind, picked: '', limit: MOST_OFFERED })
    return named(request, [...ids, ...found.map((one) => one.id)])
  }

  app.get('/decisions/new', async (request, reply) => {
    const query = request.query as Record<string, unknown>
    const considered = (Array.isArray(query.part) ? query.part : [query.part]).filter((one): one is string => typeof one === 'string')
    const form = new FormReader(query)
    return show(request, reply, { vehicleId: form.typed('vehicle'), considered: [...new Set(considered)].slice(0, MOST_CONSIDERED), form })
  })

  app.post('/vehicles/:id/decisions', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const form = new FormReader(request.body)
    const parts = named(request, [form.typed('chosen'), ...form.typed('considered').split(' ').slice(0, MOST_CONSIDERED)])
    const change = readDecision(form, { parts, state: stateOn(app.db, request.actor, vehicle.id) })
    const effectiveOn = form.date('on', { latest: todayOf(app) })
    const considered = form
      .typed('considered')
      .split(' ')
      .filter((one) => one !== '')
      .slice(0, MOST_CONSIDERED)
    const again = (faults: readonly ShownFault[]) => show(request, reply, { vehicleId: vehicle.id, considered, form, faults })
    if (form.faults.length > 0) return again(formFaults(form.faults, labelOf))
    const title = `Chose ${parts.find((part) => part.id === change.chosen)?.name ?? 'what to do'}`.slice(0, 200)
    const entry = { vehicleId: vehicle.id, effectiveOn, title, changes: [change], ...onceKeyOf(form) }
    const saved = append(app.db, app.clock, request.actor, entry)
    return saved.ok ? reply.redirect(`/entries/${saved.value.id}`, 303) : again(refusalFaults(saved.refusals))
  })
}

function labelOf(field: string): string {
  const labels: Readonly<Record<string, string>> = { chosen: 'What was chosen', component: 'For which component', why: 'Why', on: 'When' }
  return labels[field] ?? 'What else was considered'
}
