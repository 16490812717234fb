import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { type FuseBoxRow, previewFuseBox, recordFuseBox } from '../../records/fuse-box.ts'
import { partNames } from '../../records/part-rows.ts'
import { type State, stateOn } from '../../records/state.ts'
import { FormReader } from '../../web/form.ts'
import { entryField, formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { entrySavedBy, onceKeyOf, onceOf } from '../shared/once.ts'
import { option } from '../shared/options.ts'
import { type Answer, recordsWords, triedView } from '../shared/tried.ts'
import { todayOf, trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'

const columns = ['position', 'rating', 'says', 'size', 'reading'] as const

export function register(app: FastifyInstance): void {
  const show = (request: FastifyRequest, reply: FastifyReply, given: Answer & { readonly form: FormReader; readonly status: number }) => {
    const vehicle = vehicleFrom(app, request)
    const state = stateOn(app.db, request.actor, vehicle.id)
    const kinds = new Map(partNames(app.db, request.actor).map((part) => [part.id, part.kind]))
    const { faults, tried } = given
    return reply.page(
      'fuse-box/show',
      { id: vehicle.id, once: onceOf(app, given.form), faults, tried, ...viewOf(state, kinds, given.form, todayOf(app)) },
      {
        ...{ title: `Walk the fuse box of ${vehicle.name}`, heading: 'Walk the fuse box', status: given.status, section: 'vehicles' },
        trail: trailOf(vehicle),
        swaps: true,
      },
    )
  }
  const read = (request: FastifyRequest, form: FormReader) => {
    const rows = readRows(form)
    if (rows.length === 0 && form.faults.length === 0) form.fault('position-0', 'Enter at least one position.')
    const box = form.text('box', { required: 'Which component feeds the fuses? Record the block first.' })
    return {
      vehicleId: vehicleFrom(app, request).id,
      effectiveOn: form.date('on', { latest: todayOf(app) }),
      ...onceKeyOf(form),
      title: 'Walked the fuse box',
      text: '',
      fuseBox: { box, groundTo: form.text('ground') || null, rows: rows.map((one) => one.row) },
      at: rows.map((one) => one.n),
    }
  }
  const tryOut = (request: FastifyRequest, form: FormReader): Answer => {
    const { at, ...entry } = read(request, form)
    if (form.faults.length > 0) return { faults: formFaults(form.faults, fieldLabel), tried: null }
    const seen = previewFuseBox(app.db, request.actor, entry)
    if (!seen.ok) return { faults: refusalFaults(seen.refusals, { field: fieldOf(at), label: fieldLabel }), tried: null }
    return { faults: [], tried: triedView(seen.value, { vehicleId: entry.vehicleId, records: recordsWords(seen.value) }) }
  }

  app.get('/vehicles/:id/fuse-box', async (request, reply) =>
    show(request, reply, { form: new FormReader({ count: '4' }), faults: [], status: 200, tried: null }),
  )

  app.post('/vehicles/:id/fuse-box-previews', async (request, reply) => {
    const answer = tryOut(request, pasted(new FormReader(request.body)))
    return reply.fragment('shared/_tried', answer, { status: answer.tried ? 200 : 422 })
  })

  app.post('/vehicles/:id/fuse-box', async (request, reply) => {
    const form = pasted(new FormReader(request.body))
    const act = form.typed('do')
    const more = new FormReader({ ...form.body, count: String(countOf(form) + 1) })
    if (act === 'add-row') return show(request, reply, { form: more, faults: [], status: 200, tried: null })
    if (act === 'paste') return show(request, reply, { form, faults: [], status: 200, tried: null })
    if (act === 'try') {
      const answer = tryOut(request, form)
      return show(request, reply, { form, ...answer, status: answer.tried ? 200 : 422 })
    }
    const before = entrySavedBy(app, request, form)
    if (before) return reply.redirect(`/entries/${before.id}`, 303)
    const { at, ...entry } = read(request, form)
    const again = (faults: readonly ShownFault[]) => show(request, reply, { form, faults, status: 422, tried: null })
    if (form.faults.length > 0) return again(formFaults(form.faults, fieldLabel))
    const saved = recordFuseBox(app.db, app.clock, request.actor, entry)
    return saved.ok
      ? reply.redirect(`/entries/${saved.value.id}`, 303)
      : again(refusalFaults(saved.refusals, { field: fieldOf(at), label: fieldLabel }))
  })
}

function fieldLabel(field: string): string {
  const [, name = '', row] = /^(position|rating|says|size|reading)-(\d+)$/.exec(field) ?? []
  const words: Readonly<Record<string, string>> = {
    ...{ position: 'position', rating: 'rating', says: 'what the lid says', size: 'wire', reading: 'clamp meter' },
    ...{ box: 'Fed by', ground: 'Returns to', on: 'When' },
  }
  return name === '' ? (words[field] ?? field) : `Row ${Number(row) + 1}, ${words[name]}`
}

/** A refused piece as the form calls it; blank rows between were not sent on, so rows are found by where they stood. */
function fieldOf(at: readonly number[]): (refused: string) => string {
  return (refused) => {
    const [, row, piece = ''] = /^rows\.(\d+)\.(.*)$/.exec(refused) ?? []
    const names: Readonly<Record<string, string>> = { rating_A: 'rating', crossSection_mm2: 'size', reading_A: 'reading', says: 'says' }
    if (row !== undefined) return `${names[piece] ?? 'position'}-${at[Number(row)] ?? row}`
    return { box: 'box', groundTo: 'ground', rows: 'position-0' }[refused] ?? entryField(refused)
  }
}

function countOf(form: FormReader): number {
  return Math.min(60, Math.max(1, Number(form.typed('count')) || 4))
}

function readRows(form: FormReader): readonly { readonly n: number; readonly row: FuseBoxRow }[] {
  return Array.from({ length: countOf(form) }, (_, n) => n).flatMap((n) => {
    if (columns.every((column) => form.typed(`${column}-${n}`).trim() === '')) return []
    const row: FuseBoxRow = {
      position: form.text(`position-${n}`, { max: 20, required: 'Which position?' }),
      rating_A: form.number(`rating-${n}`, { aboveZero: true, max: 1000 }),
      says: form.text(`says-${n}`, { max: 60 }),
      crossSection_mm2: form.number(`size-${n}`, { aboveZero: true, max: 300 }),
      reading_A: form.number(`reading-${n}`, { min: 0, max: 1000 }),
    }
    return [{ n, row }]
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
  const terminal = (key: string) =>
    [...state.joins.values()].flatMap((join) => [join.from, join.to]).find((full) => full.startsWith(`${key}:`)) ?? `${key}:1`
  return {
    boxes: places.filter((one) => ['block', 'splice'].includes(kindOf(one.key))).map((one) => option(one.key, one.name, form.typed('box'))),
    grounds: places
      .filter((one) => ['ground-point', 'chassis'].includes(kindOf(one.key)))
      .map((one) => option(terminal(one.key), one.name, form.typed('ground'))),
    count: String(countOf(form)),
    paste: form.typed('paste'),
    on: form.typed('on') || today,
    rows: Array.from({ length: countOf(form) }, (_, n) => ({
      n,
      label: String(n + 1),
      position: form.typed(`position-${n}`),
      rating: form.typed(`rating-${n}`),
      says: form.typed(`says-${n}`),
      size: form.typed(`size-${n}`),
      reading: form.typed(`reading-${n}`),
    })),
  }
}
