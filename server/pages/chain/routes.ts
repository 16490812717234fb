import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { sheet } from '../../records/archive-write.ts'
import { readChain } from '../../records/chain.ts'
import { previewChain, recordChain } from '../../records/journal.ts'
import { partsById } from '../../records/part-rows.ts'
import { partsOf } from '../../records/parts.ts'
import { partsOffered } from '../../records/parts-offered.ts'
import { done } from '../../records/refusals.ts'
import { stateOn } from '../../records/state.ts'
import { lastSaveOf } from '../../records/versions.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { columns, rows } from '../shared/cut-lines.ts'
import { formFaults, refusalFaults } from '../shared/faults.ts'
import { MOST_PARTS } from '../shared/options.ts'
import { entrySavedBy } from '../shared/once.ts'
import { type Answer, recordsWords, triedView } from '../shared/tried.ts'
import { undoView } from '../shared/undo-view.ts'
import { todayOf, trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { type Cuts, triedCuts, triedLines } from './cuts.ts'
import { readChainForm, startForm } from './form.ts'
import { fieldLabel, fieldOf, pathWords, view } from './view.ts'

export function register(app: FastifyInstance): void {
  const show = (
    request: FastifyRequest,
    reply: FastifyReply,
    given: Tries & { readonly key: string; readonly form: FormReader; readonly status: number },
  ) => {
    const vehicle = vehicleFrom(app, request)
    const state = stateOn(app.db, request.actor, vehicle.id)
    const component = state.components.get(given.key)
    if (!component) throw new NotFound('No such component is fitted today.')
    const shelf = { parts: partsById(app.db, request.actor), offered: partsOffered(app.db, request.actor, MOST_PARTS) }
    const facts = view({ vehicle, state, component, ...shelf, today: todayOf(app), ...given })
    return reply.page('chain/show', facts, {
      title: `Add from ${component.name}`,
      status: given.status,
      section: 'vehicles',
      trail: trailOf(vehicle, { href: `/vehicles/${vehicle.id}/components/${component.key}`, label: component.name }),
      swaps: true,
    })
  }

  const read = (request: FastifyRequest, form: FormReader) => {
    const vehicle = vehicleFrom(app, request)
    return readChainForm(form, {
      vehicleId: vehicle.id,
      systemVoltage_V: vehicle.systemVoltage_V,
      parts: partsById(app.db, request.actor),
      conductors: partsOf(app.db, request.actor, { kind: 'conductor' }),
      state: stateOn(app.db, request.actor, vehicle.id),
      today: todayOf(app),
    })
  }
  const tryOut = (request: FastifyRequest, form: FormReader): Tries & { readonly csv: string } => {
    const entry = read(request, form)
    if (form.faults.length > 0) return { faults: formFaults(form.faults, fieldLabel), tried: null, cuts: null, csv: '' }
    const seen = previewChain(app.db, request.actor, entry)
    if (!seen.ok) return { faults: refusalFaults(seen.refusals, { field: fieldOf, label: fieldLabel }), tried: null, cuts: null, csv: '' }
    return {
      faults: [],
      tried: triedView(seen.value, { vehicleId: entry.vehicleId, records: recordsWords(seen.value) }),
      cuts: triedCuts(seen.value),
      csv: sheet(columns, rows(triedLines(seen.value))),
    }
  }

  app.get('/vehicles/:id/components/:key/chain', async (request, reply) => {
    const { key } = request.params as { key: string }
    const vehicle = vehicleFrom(app, request)
    const parts = partsById(app.db, request.actor)
    const form = startForm({ state: stateOn(app.db, request.actor, vehicle.id), parts, key, today: todayOf(app) })
    const { finishes } = request.query as { finishes?: unknown }
    const started = new FormReader({ ...form.body, ...(typeof finishes === 'string' ? { finishes } : {}) })
    return show(request, reply, { key, form: started, faults: [], tried: null, cuts: null, status: 200 })
  })

  app.post('/vehicles/:id/chain-previews', async (request, reply) => {
    const answer = tryOut(request, new FormReader(request.body))
    return reply.fragment('chain/_tried', answer, { status: answer.tried ? 200 : 422 })
  })

  app.post('/vehicles/:id/chains', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const form = new FormReader(request.body)
    const key = form.typed('from').split(':')[0] as string
    const act = form.typed('do')
    if (act === 'add-row' || act.startsWith('drop-'))
      return show(request, reply, { key, form: changeRows(form, act), faults: [], tried: null, cuts: null, status: 200 })
    if (act !== 'save') {
      const answer = tryOut(request, form)
      if (act === 'cut-list' && answer.tried)
        return reply
          .header('content-disposition', 'attachment; filename="cut-list.csv"')
          .header('cache-control', 'no-store')
          .type('text/csv; charset=utf-8')
          .send(answer.csv)
      return show(request, reply, { key, form, ...answer, status: answer.tried ? 200 : 422 })
    }
    const entry = read(request, form)
    const before = entrySavedBy(app, request, form)
    if (!before && form.faults.length > 0)
      return show(request, reply, { key, form, faults: formFaults(form.faults, fieldLabel), tried: null, cuts: null, status: 422 })
    const saved = before ? done(before) : recordChain(app.db, app.clock, request.actor, entry)
    if (!saved.ok)
      return show(request, reply, {
        ...{ key, form, tried: null, cuts: null, status: 422 },
        faults: refusalFaults(saved.refusals, { field: fieldOf, label: fieldLabel }),
      })
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
    const parts = partsById(app.db, request.actor)
    const chain = typeof from === 'string' ? readChain(state, parts, from, key) : null
    if (!chain) throw new NotFound('No path is recorded between these two.')
    const last = lastSaveOf(app.db, app.clock, request.actor, vehicle.id)
    const undo = last !== null && last.entryId === entry && last.undo === 'withdraw' ? undoView(last) : null
    return reply.page(
      'chain/path',
      { id: vehicle.id, key, undo, entry: typeof entry === 'string' ? entry : '', ...pathWords({ chain, state, parts }) },
      { title: `The path of ${state.components.get(key)?.name ?? key}`, section: 'vehicles', trail: trailOf(vehicle) },
    )
  })
}

/** What trying came to, and what would be cut for it. */
type Tries = Answer & { readonly cuts: Cuts | null }

/** One row more at the end, or one fewer; everything typed stays. */
function changeRows(form: FormReader, act: string): FormReader {
  const body: Record<string, unknown> = { ...form.body }
  const count = Math.min(12, Number(form.typed('rows')) || 0)
  if (act === 'add-row')
    return new FormReader({ ...body, rows: String(Math.min(12, count + 1)), [`type-${count}`]: 'conductor', [`size-${count}`]: '2.5' })
  const dropped = Number(act.slice('drop-'.length))
  for (let n = dropped; n < count; n++)
    for (const field of ['type', 'name', 'part', 'size', 'length', 'figure', 'unknown-size', 'unknown-length', 'unknown-figure'])
      body[`${field}-${n}`] = form.typed(`${field}-${n + 1}`)
  return new FormReader({ ...body, rows: String(Math.max(0, count - 1)) })
}
