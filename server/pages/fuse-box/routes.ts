import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { type FuseBoxRow, previewFuseBox, recordFuseBox } from '../../records/fuse-box.ts'
import { partsOf } from '../../records/parts.ts'
import { type State, stateOn } from '../../records/state.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { todayOf, vehicleFrom } from '../shared/vehicle-facts.ts'

const columns = ['position', 'rating', 'says', 'size', 'reading'] as const

export function register(app: FastifyInstance): void {
  const show = (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { form: FormReader; faults: readonly ShownFault[]; status: number; seen: string },
  ) => {
    const vehicle = vehicleFrom(app, request)
    const state = stateOn(app.db, request.actor, vehicle.id)
    const kinds = new Map(partsOf(app.db, request.actor).map((part) => [part.id, part.kind]))
    return reply.page(
      'fuse-box/show',
      { id: vehicle.id, faults: given.faults, seen: given.seen, ...viewOf(state, kinds, given.form, todayOf(app)) },
      { title: `Walk the fuse box of ${vehicle.name}`, status: given.status },
    )
  }

  app.get('/vehicles/:id/fuse-box', async (request, reply) =>
    show(request, reply, { form: new FormReader({ count: '4' }), faults: [], status: 200, seen: '' }),
  )

  app.post('/vehicles/:id/fuse-box', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const form = pasted(new FormReader(request.body))
    const act = form.typed('do')
    if (act === 'add-row')
      return show(request, reply, {
        form: new FormReader({ ...form.body, count: String(countOf(form) + 1) }),
        faults: [],
        status: 200,
        seen: '',
      })
    if (act === 'paste') return show(request, reply, { form, faults: [], status: 200, seen: '' })
    const rows = readRows(form)
    if (rows.length === 0 && form.faults.length === 0) form.fault('position-0', 'Enter at least one position.')
    const box = form.text('box', { required: 'Which component feeds the fuses? Record the block first.' })
    const effectiveOn = form.date('on', { latest: todayOf(app) })
    if (form.faults.length > 0) return show(request, reply, { form, faults: formFaults(form.faults), status: 422, seen: '' })
    const entry = {
      vehicleId: vehicle.id,
      effectiveOn,
      title: 'Walked the fuse box',
      text: '',
      fuseBox: { box, groundTo: form.text('ground') || null, rows },
    }
    if (act === 'try') {
      const seen = previewFuseBox(app.db, request.actor, entry)
      return seen.ok
        ? show(request, reply, {
            form,
            faults: [],
            status: 200,
            seen: `Would record ${rows.length} positions and ${seen.value.records.joins} joins.`,
          })
        : show(request, reply, { form, faults: refusalFaults(seen.refusals), status: 422, seen: '' })
    }
    const saved = recordFuseBox(app.db, app.clock, request.actor, entry)
    return saved.ok
      ? reply.redirect(`/entries/${saved.value.id}`, 303)
      : show(request, reply, { form, faults: refusalFaults(saved.refusals), status: 422, seen: '' })
  })
}

function countOf(form: FormReader): number {
  return Math.min(60, Math.max(1, Number(form.typed('count')) || 4))
}

function readRows(form: FormReader): readonly FuseBoxRow[] {
  return Array.from({ length: countOf(form) }, (_, n) => n).flatMap((n): FuseBoxRow[] => {
    if (columns.every((column) => form.typed(`${column}-${n}`).trim() === '')) return []
    return [
      {
        position: form.text(`position-${n}`, { max: 20, required: 'Which position?' }),
        rating_A: form.number(`rating-${n}`, { aboveZero: true, max: 1000 }),
        says: form.text(`says-${n}`, { max: 120 }),
        crossSection_mm2: form.number(`size-${n}`, { aboveZero: true, max: 300 }),
        reading_A: form.number(`reading-${n}`, { min: 0, max: 1000 }),
      },
    ]
  })
}

/** A pasted table fills the rows: position, rating, what the lid says, cross-section, reading, parted by tabs or semicolons. */
function pasted(form: FormReader): FormReader {
  const lines = form
    .typed('paste')
    .split('\n')
    .map((line) => line.trim())
    .filter((line) => line !== '')
  if (lines.length === 0) return form
  const cells = lines.flatMap((line, n) =>
    line
      .split(/\t|;/)
      .slice(0, columns.length)
      .map((cell, column): [string, string] => [`${columns[column]}-${n}`, cell.trim()]),
  )
  return new FormReader({ ...form.body, ...Object.fromEntries(cells), count: String(lines.length), paste: '' })
}

function viewOf(state: State, kinds: ReadonlyMap<string, string>, form: FormReader, today: string) {
  const kindOf = (key: string) => kinds.get(state.components.get(key)?.part ?? '') ?? ''
  const places = [...state.components.values()]
  const option = (value: string, label: string, picked: string) => ({ value, label, chosen: value === picked })
  const terminal = (key: string) =>
    [...state.joins.values()].flatMap((join) => [join.from, join.to]).find((full) => full.startsWith(`${key}:`)) ?? `${key}:1`
  return {
    boxes: places.filter((one) => ['block', 'splice'].includes(kindOf(one.key))).map((one) => option(one.key, one.name, form.typed('box'))),
    grounds: places
      .filter((one) => ['ground-point', 'chassis'].includes(kindOf(one.key)))
      .map((one) => option(terminal(one.key), one.name, form.typed('ground'))),
    count: String(countOf(form)),
    on: form.typed('on') || today,
    rows: Array.from({ length: countOf(form) }, (_, n) => ({
      n,
      position: form.typed(`position-${n}`),
      rating: form.typed(`rating-${n}`),
      says: form.typed(`says-${n}`),
      size: form.typed(`size-${n}`),
      reading: form.typed(`reading-${n}`),
    })),
  }
}
