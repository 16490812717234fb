import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { importArchive } from '../../records/archive-import.ts'
import { type ArchiveScope, archiveStream, heldBy } from '../../records/archive-write.ts'
import { append } from '../../records/journal.ts'
import { vehiclesOf } from '../../records/vehicles.ts'
import { FormReader } from '../../web/form.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { entrySavedBy, onceKeyOf, onceOf } from '../shared/once.ts'
import { todayOnly } from '../shared/today-only.ts'
import { dayFrom, statusOf, todayOf, trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { leftView, view } from './view.ts'

const MOST_bytes = 8e9
const PAGE = { title: 'Archive', section: 'settings' } as const
const OWNERS = { config: { needs: 'owner' } } as const

export function register(app: FastifyInstance): void {
  const { data } = app.config
  const show = (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { readonly faults: readonly ShownFault[]; readonly status: number; readonly done: string },
  ) =>
    reply.page('archive/show', view({ vehicles: vehiclesOf(app.db, request.actor), held: heldBy(app.db, request.actor), ...given }), {
      ...PAGE,
      status: given.status,
    })
  /** Sent while it is made; whoever breaks it off ends the making too. */
  const download = async (request: FastifyRequest, reply: FastifyReply, given: ArchiveScope & { readonly name: string }) => {
    const { stream } = await archiveStream(app.db, app.clock, request.actor, { ...given, data })
    return reply
      .header('content-disposition', `attachment; filename="${given.name}-${todayOf(app)}.zip"`)
      .header('cache-control', 'no-store')
      .type('application/zip')
      .send(stream)
  }

  app.get('/archive', OWNERS, async (request, reply) => show(request, reply, { faults: [], status: 200, done: '' }))
  app.get('/archive/download', OWNERS, async (request, reply) => download(request, reply, { name: 'loombook' }))

  app.post('/archive/imports', { config: { needs: 'owner', fileMost_bytes: MOST_bytes } }, async (request, reply) => {
    const [file] = request.received
    if (!file)
      return show(request, reply, {
        faults: formFaults([{ field: 'archive', says: 'Choose an archive, a .zip file.' }]),
        status: 422,
        done: '',
      })
    const { signal } = gone(reply)
    const taken = await importArchive(app.db, app.clock, request.actor, { data, path: file.path, signal })
    if (!taken.ok) return show(request, reply, { faults: refusalFaults(taken.refusals, { field: () => 'archive' }), status: 422, done: '' })
    const { added, same, asCopy, photos, missingPhotos } = taken.value
    const count = (name: string, word: string) => (added[name] ? [`${added[name]} ${word}`] : [])
    const what = [
      ...count('vehicles', 'vehicles'),
      ...count('entries', 'entries'),
      ...count('parts', 'parts'),
      ...(photos > 0 ? [`${photos} photos and papers`] : []),
    ]
    const done = [
      what.length === 0 ? 'Nothing new: all of it was here already.' : `Taken in: ${what.join(', ')}.`,
      same > 0 ? `${same} records were here already, the same.` : '',
      asCopy ? 'Some record differs from the one here, so all of it came in beside what is here, as a copy.' : '',
      missingPhotos > 0 ? `${missingPhotos} originals were not in the archive.` : '',
    ]
    return show(request, reply, { faults: [], status: 200, done: done.filter((one) => one !== '').join(' ') })
  })

  app.get('/vehicles/:id/archive', OWNERS, async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const day = dayFrom(app, request)
    return reply.page(
      'archive/vehicle',
      { id: vehicle.id, name: vehicle.name, todayOnly: todayOnly(day, vehicle.id) },
      { title: `Hand over ${vehicle.name}`, section: 'vehicles', trail: trailOf(vehicle), status: statusOf(day) },
    )
  })
  app.get('/vehicles/:id/archive/download', OWNERS, async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const { costs, names } = request.query as Record<string, unknown>
    const name =
      vehicle.name
        .normalize('NFKD')
        .replace(/[^\w-]+/g, '-')
        .slice(0, 60) || 'vehicle'
    return download(request, reply, { vehicleId: vehicle.id, costs: costs === 'yes', names: names === 'yes', name })
  })

  app.get('/vehicles/:id/leave', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const blank = new FormReader({})
    const facts = leftView({ id: vehicle.id, form: blank, faults: [], today: todayOf(app), once: onceOf(app, blank) })
    return reply.page('archive/leave', facts, {
      title: `${vehicle.name} has left`,
      heading: 'It has left',
      section: 'vehicles',
      trail: trailOf(vehicle),
    })
  })
  app.post('/vehicles/:id/departures', async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const form = new FormReader(request.body)
    const before = entrySavedBy(app, request, form)
    if (before) return reply.redirect(`/entries/${before.id}`, 303)
    const how = form.choice('how', ['sold', 'given away', 'scrapped'] as const, 'sold')
    const on = form.date('on', { latest: todayOf(app) })
    const to = form.text('to', { max: 200 })
    const again = (faults: readonly ShownFault[], status: number) =>
      reply.page('archive/leave', leftView({ id: vehicle.id, form, faults, today: todayOf(app), once: onceOf(app, form) }), {
        ...{ title: `${vehicle.name} has left`, heading: 'It has left', status, section: 'vehicles', trail: trailOf(vehicle) },
      })
    if (form.faults.length > 0) return again(formFaults(form.faults), 422)
    const saved = append(app.db, app.clock, request.actor, {
      vehicleId: vehicle.id,
      effectiveOn: on,
      title: `${vehicle.name} ${how}`,
      changes: [{ kind: 'left', how, ...(to === '' ? {} : { to }) }],
      ...onceKeyOf(form),
    })
    return saved.ok
      ? reply.redirect(`/entries/${saved.value.id}`, 303)
      : again(refusalFaults(saved.refusals), saved.refusals[0]?.status ?? 422)
  })
}

/** Aborted when whoever waits for the answer goes away. */
function gone(reply: FastifyReply): AbortController {
  const controller = new AbortController()
  reply.raw.once('close', () => {
    if (!reply.raw.writableFinished) controller.abort()
  })
  return controller
}
