import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { previewInsert, recordInsert } from '../../records/journal.ts'
import { partsById } from '../../records/part-rows.ts'
import { partsOffered } from '../../records/parts-offered.ts'
import { stateOn } from '../../records/state.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { entrySavedBy } from '../shared/once.ts'
import { MOST_PARTS } from '../shared/options.ts'
import { type Answer, recordsWords, triedView } from '../shared/tried.ts'
import { todayOf, trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { readInsert } from './form.ts'
import { fieldLabel, fieldOf, view } from './view.ts'

export function register(app: FastifyInstance): void {
  const placeOf = (request: FastifyRequest) => {
    const vehicle = vehicleFrom(app, request)
    const state = stateOn(app.db, request.actor, vehicle.id)
    const component = state.components.get((request.params as { key: string }).key)
    if (!component) throw new NotFound('No such component is fitted today.')
    return { vehicle, state, component, parts: partsById(app.db, request.actor), today: todayOf(app) }
  }
  const show = (request: FastifyRequest, reply: FastifyReply, given: Answer & { readonly form: FormReader; readonly status: number }) => {
    const place = placeOf(request)
    const { vehicle, component } = place
    return reply.page('insert/show', view({ ...place, ...given, offered: partsOffered(app.db, request.actor, MOST_PARTS) }), {
      title: `Put something in line with ${component.name}`,
      heading: 'Put something in line',
      status: given.status,
      section: 'vehicles',
      trail: trailOf(vehicle, { href: `/vehicles/${vehicle.id}/components/${component.key}`, label: component.name }),
      swaps: true,
    })
  }
  const read = (request: FastifyRequest, form: FormReader) => {
    const { vehicle, component, ...known } = placeOf(request)
    return readInsert(form, { ...known, vehicleId: vehicle.id, systemVoltage_V: vehicle.systemVoltage_V, key: component.key })
  }
  const tryOut = (request: FastifyRequest, form: FormReader): Answer => {
    const entry = read(request, form)
    if (form.faults.length > 0) return { faults: formFaults(form.faults, fieldLabel), tried: null }
    const seen = previewInsert(app.db, request.actor, entry)
    if (!seen.ok) return { faults: refusalFaults(seen.refusals, { field: fieldOf, label: fieldLabel }), tried: null }
    return { faults: [], tried: triedView(seen.value, { vehicleId: entry.vehicleId, records: recordsWords(seen.value) }) }
  }

  app.get('/vehicles/:id/components/:key/insert', async (request, reply) =>
    show(request, reply, { form: new FormReader(request.query), faults: [], tried: null, status: 200 }),
  )

  app.post('/vehicles/:id/components/:key/insert-previews', async (request, reply) => {
    const answer = tryOut(request, new FormReader(request.body))
    return reply.fragment('shared/_tried', answer, { status: answer.tried ? 200 : 422 })
  })

  app.post('/vehicles/:id/components/:key/inserts', async (request, reply) => {
    const form = new FormReader(request.body)
    if (form.typed('do') !== 'save') {
      const answer = tryOut(request, form)
      return show(request, reply, { form, ...answer, status: answer.tried ? 200 : 422 })
    }
    const before = entrySavedBy(app, request, form)
    if (before) return reply.redirect(`/entries/${before.id}`, 303)
    const entry = read(request, form)
    const again = (faults: readonly ShownFault[]) => show(request, reply, { form, faults, tried: null, status: 422 })
    if (form.faults.length > 0) return again(formFaults(form.faults, fieldLabel))
    const saved = recordInsert(app.db, app.clock, request.actor, entry)
    return saved.ok
      ? reply.redirect(`/entries/${saved.value.id}`, 303)
      : again(refusalFaults(saved.refusals, { field: fieldOf, label: fieldLabel }))
  })
}
