/** What is written on the part page besides its figures: purchases, and pieces that are left. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import type { Refusal, Result } from '../../records/contract.ts'
import { cutLeftover, keepLeftover } from '../../records/leftovers.ts'
import { recordPurchase, removePurchase } from '../../records/purchases.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { doneOnce } from '../shared/once.ts'
import { todayOf } from '../shared/vehicle-facts.ts'

type Page = {
  readonly partFrom: (request: FastifyRequest) => { readonly id: string }
  readonly again: (request: FastifyRequest, reply: FastifyReply, form: FormReader, faults: readonly ShownFault[]) => FastifyReply
}

const LABELS: Readonly<Record<string, string>> = {
  bought: 'Bought on',
  pieces: 'How many were bought',
  paid: 'Paid for them together',
  supplier: 'From whom',
  length: 'Length',
  kept: 'Where the piece is',
}
const label = (field: string): string => LABELS[field] ?? (field.startsWith('now-') ? 'Length now' : field)

export function registerKeeping(app: FastifyInstance, page: Page): void {
  type Fields = Readonly<Record<string, string>>
  const answer = (
    request: FastifyRequest,
    reply: FastifyReply,
    form: FormReader,
    given: { done: Result<unknown> | null; fields: Fields },
  ) => {
    const { done, fields } = given
    if (done === null) return page.again(request, reply, form, formFaults(form.faults, label))
    if (done.ok) return reply.redirect(`/parts/${page.partFrom(request).id}`, 303)
    if (done.refusals.some((one: Refusal) => one.code === 'not-found')) throw new NotFound(done.refusals[0]?.sentence)
    return page.again(request, reply, form, refusalFaults(done.refusals, { field: (of) => fields[of] ?? of, label }))
  }

  app.post('/parts/:id/purchases', async (request, reply) => {
    const partId = page.partFrom(request).id
    const form = new FormReader(request.body)
    const boughtOn = form.date('bought', { latest: todayOf(app) })
    const count = form.number('pieces', { min: 1, max: 1e6, whole: true })
    if (count === null && form.faults.length === 0) form.fault('pieces', 'How many?')
    const paid = form.number('paid', { min: 0, max: 10_000_000 })
    const supplier = form.text('supplier', { max: 200 })
    const price = paid === null ? {} : { price_minor: Math.round(paid * 100) }
    const purchase = { partId, boughtOn, count: count ?? 0, supplier, countStays: form.ticked('stays'), ...price }
    const done =
      form.faults.length > 0 ? null : doneOnce(app, request, form, () => recordPurchase(app.db, app.clock, request.actor, purchase))
    return answer(request, reply, form, { done, fields: { boughtOn: 'bought', count: 'pieces', price_minor: 'paid' } })
  })

  app.post('/parts/:id/purchase-removals', async (request, reply) => {
    const form = new FormReader(request.body)
    const removal = { partId: page.partFrom(request).id, purchaseId: form.typed('purchase') }
    const done = doneOnce(app, request, form, () => removePurchase(app.db, request.actor, removal))
    return answer(request, reply, form, { done, fields: {} })
  })

  app.post('/parts/:id/leftovers', async (request, reply) => {
    const partId = page.partFrom(request).id
    const form = new FormReader(request.body)
    const length_m = form.number('length', { max: 10_000, aboveZero: true })
    if (length_m === null && form.faults.length === 0) form.fault('length', 'How long is it, in metres?')
    const place = form.text('kept', { max: 200 })
    const piece = { partId, length_m: length_m ?? 0, place }
    const done = form.faults.length > 0 ? null : doneOnce(app, request, form, () => keepLeftover(app.db, app.clock, request.actor, piece))
    return answer(request, reply, form, { done, fields: { length_m: 'length', place: 'kept' } })
  })

  app.post('/parts/:id/leftover-cuts', async (request, reply) => {
    const partId = page.partFrom(request).id
    const form = new FormReader(request.body)
    const leftoverId = form.text('piece', { max: 40 })
    const field = `now-${leftoverId}`
    const length_m = form.ticked('used') ? 0 : form.number(field, { max: 10_000, min: 0 })
    if (length_m === null && form.faults.length === 0) form.fault(field, 'How long is it now, in metres?')
    const cut = { partId, leftoverId, length_m: length_m ?? 0 }
    const done = form.faults.length > 0 ? null : doneOnce(app, request, form, () => cutLeftover(app.db, app.clock, request.actor, cut))
    return answer(request, reply, form, { done, fields: { length_m: field } })
  })
}
