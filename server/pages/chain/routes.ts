import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { readChain } from '../../records/chain.ts'
import { append, previewChain, recordChain } from '../../records/journal.ts'
import { partsOf } from '../../records/parts.ts'
import { stateOn } from '../../records/state.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { todayOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { readChainForm, startForm } from './form.ts'
import { type Foot, footOf, pathWords, view } from './view.ts'

export function register(app: FastifyInstance): void {
  const show = (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { key: string; form: FormReader; faults: readonly ShownFault[]; foot: Foot | null; status: number },
  ) => {
    const vehicle = vehicleFrom(app, request)
    const state = stateOn(app.db, request.actor, vehicle.id)
    const component = state.components.get(given.key)
    if (!component) throw new NotFound('No such component is fitted today.')
    const facts = view({ vehicle, state, component, parts: partsOf(app.db, request.actor), today: todayOf(app), ...given })
    return reply.page('chain/show', facts, { title: `Add from ${component.name}`, status: given.status, section: 'vehicles' })
  }

  app.get('/vehicles/:id/components/:key/chain', async (request, reply) => {
    const { key } = request.params as { key: string }
    const vehicle = vehicleFrom(app, request)
    const parts = partsOf(app.db, request.actor)
    const form = startForm({ state: stateOn(app.db, request.actor, vehicle.id), parts, key, today: todayOf(app) })
    return show(request, reply, { key, form, faults: [], foot: null, status: 200 })
  })

  app.post('/vehicles/:id/chains', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const form = new FormReader(request.body)
    const key = form.typed('from').split(':')[0] as string
    const act = form.typed('do')
    if (act === 'add-row' || act.startsWith('drop-'))
      return show(request, reply, { key, form: changeRows(form, act), faults: [], foot: null, status: 200 })
    const state = stateOn(app.db, request.actor, vehicle.id)
    const entry = readChainForm(form, {
      vehicleId: vehicle.id,
      systemVoltage_V: vehicle.systemVoltage_V,
      parts: partsOf(app.db, request.actor),
      today: todayOf(app),
      state,
    })
    if (form.faults.length > 0) return show(request, reply, { key, form, faults: formFaults(form.faults), foot: null, status: 422 })
    if (act !== 'save') {
      const seen = previewChain(app.db, request.actor, entry)
      return seen.ok
        ? show(request, reply, { key, form, faults: [], foot: footOf(seen.value), status: 200 })
        : show(request, reply, { key, form, faults: refusalFaults(seen.refusals), foot: null, status: 422 })
    }
    const saved = recordChain(app.db, app.clock, request.actor, entry)
    if (!saved.ok) return show(request, reply, { key, form, faults: refusalFaults(saved.refusals), foot: null, status: 422 })
    const last = saved.value.changes.findLast(
      (change) => change.kind === 'fitted' && entry.chain.rows.some((row) => 'name' in row && row.name === change.component.name),
    )
    return reply.redirect(
      last?.kind === 'fitted'
        ? `/vehicles/${vehicle.id}/components/${last.component.key}/path?from=${encodeURIComponent(entry.chain.from)}&entry=${saved.value.id}`
        : `/entries/${saved.value.id}`,
      303,
    )
  })

  app.get('/vehicles/:id/components/:key/path', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const { key } = request.params as { key: string }
    const { from, entry } = request.query as { from?: string; entry?: string }
    const state = stateOn(app.db, request.actor, vehicle.id)
    const parts = new Map(partsOf(app.db, request.actor).map((part) => [part.id, part]))
    const chain = typeof from === 'string' ? readChain(state, parts, from, key) : null
    if (!chain) throw new NotFound('No path is recorded between these two.')
    return reply.page(
      'chain/path',
      { id: vehicle.id, key, entry: entry ?? '', ...pathWords({ chain, state, parts }) },
      { title: 'The path as recorded', section: 'vehicles' },
    )
  })

  app.post('/vehicles/:id/unfinished', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const form = new FormReader(request.body)
    const text = form.text('text', { max: 500, required: 'What was changed, in one sentence?' })
    const state = stateOn(app.db, request.actor, vehicle.id)
    const components = form
      .text('components', { required: 'Which component?' })
      .split(' ')
      .filter((key) => state.components.has(key))
    if (components.length === 0) form.fault('components', 'There is no such component in this vehicle.')
    if (form.faults.length > 0)
      return reply.page(
        'chain/unfinished',
        { id: vehicle.id, faults: formFaults(form.faults), components: form.typed('components'), text: form.typed('text') },
        { title: 'Finish wiring later', status: 422 },
      )
    const key = `unfinished-${todayOf(app)}-${state.unfinished.size + 1}-${components[0]}`.slice(0, 80)
    const saved = append(app.db, app.clock, request.actor, {
      vehicleId: vehicle.id,
      effectiveOn: todayOf(app),
      title: `To finish: ${text}`.slice(0, 120),
      changes: [{ kind: 'unfinished', key, components, text }],
    })
    if (!saved.ok)
      return reply.page(
        'chain/unfinished',
        { id: vehicle.id, faults: refusalFaults(saved.refusals), components: form.typed('components'), text },
        { title: 'Finish wiring later', status: 422 },
      )
    return reply.redirect(`/entries/${saved.value.id}`, 303)
  })

  app.post('/vehicles/:id/finished', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const form = new FormReader(request.body)
    const saved = append(app.db, app.clock, request.actor, {
      vehicleId: vehicle.id,
      effectiveOn: todayOf(app),
      title: 'Wiring entered',
      changes: [{ kind: 'finished', key: form.typed('key') }],
    })
    if (!saved.ok)
      return reply.page(
        'chain/unfinished',
        { id: vehicle.id, faults: refusalFaults(saved.refusals), components: '', text: '' },
        { title: 'Finish wiring later', status: 422 },
      )
    return reply.redirect(`/entries/${saved.value.id}`, 303)
  })
}

/** One row more at the end, or one fewer; everything typed stays. */
function changeRows(form: FormReader, act: string): FormReader {
  const body: Record<string, unknown> = { ...form.body }
  const count = Math.min(12, Number(form.typed('rows')) || 0)
  if (act === 'add-row')
    return new FormReader({ ...body, rows: String(Math.min(12, count + 1)), [`type-${count}`]: 'conductor', [`size-${count}`]: '2.5' })
  const dropped = Number(act.slice('drop-'.length))
  for (let n = dropped; n < count; n++)
    for (const field of ['type', 'name', 'part', 'size', 'length', 'figure']) body[`${field}-${n}`] = form.typed(`${field}-${n + 1}`)
  return new FormReader({ ...body, rows: String(Math.max(0, count - 1)) })
}
