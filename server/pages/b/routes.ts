/** Build pages as the owner makes them: chosen, looked at, handed out, listed and taken back. */
import { createReadStream } from 'node:fs'
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { maskFor, photoIdsFor, photosFor } from '../../records/build-page.ts'
import { makeShare, type OpenShare, revokeShare, sharesOf } from '../../records/shares.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { absolute } from '../../web/site.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { todayOnly } from '../shared/today-only.ts'
import { dayFrom, statusOf, todayOf, trailOf, vehicleFrom } from '../shared/vehicle-facts.ts'
import { type HandOver, queryOf, readHandOver } from './form.ts'
import { bareFile } from './public.ts'
import { buildPage, front, masked, scopesOf } from './render.ts'
import type { Given } from './scope.ts'
import { handOverHref, view } from './view.ts'

const OWNERS = { config: { needs: 'owner' } } as const
const FIELDS: Readonly<Record<string, string>> = { expiresOn: 'Good until', from: 'Journal from', recipient: 'For', pages: 'What to show' }

export function register(app: FastifyInstance): void {
  const read = (request: FastifyRequest, form: FormReader): HandOver => {
    const made = sharesOf(app.db, app.clock, request.actor, vehicleFrom(app, request).id).length
    return readHandOver(form, { today: todayOf(app), made })
  }
  /** What a link with these ticks would open, were it made now. */
  const shareOf = (request: FastifyRequest, { shows, expiresOn }: HandOver): OpenShare => ({
    householdId: request.actor.householdId,
    vehicleId: vehicleFrom(app, request).id,
    shows,
    photosUntil: app.clock.now().toISOString(),
    expiresAt: `${expiresOn}T23:59:59.999Z`,
  })
  const given = (request: FastifyRequest, handOver: HandOver): Given => {
    const share = shareOf(request, handOver)
    const link = (to: string, more: Readonly<Record<string, string>> = {}) => {
      const query = queryOf(handOver)
      for (const [name, value] of Object.entries(more)) query.set(name, value)
      return `/vehicles/${share.vehicleId}/hand-over/preview${to === '' ? '' : `/${to}`}?${query}`
    }
    return {
      db: app.db,
      drawings: app.drawings,
      share,
      today: todayOf(app),
      link,
      query: request.query as Readonly<Record<string, unknown>>,
    }
  }
  const show = (
    request: FastifyRequest,
    reply: FastifyReply,
    more: { readonly form: FormReader; readonly handOver: HandOver; readonly faults?: readonly ShownFault[]; readonly made?: string },
  ) => {
    const vehicle = vehicleFrom(app, request)
    const of = given(request, more.handOver)
    const { share } = of
    const faults = more.faults ?? []
    const all = photosFor(app.db, { ...share, shows: { ...share.shows, withoutPhotos: [] } })
    const ids = photoIdsFor(app.db, share)
    const day = dayFrom(app, request)
    const facts = view({
      vehicleId: vehicle.id,
      todayOnly: todayOnly(day, vehicle.id),
      ...more,
      ...{ faults, made: more.made ?? '', timeZone: app.config.timeZone },
      photos: all.map((photo, at) => ({ ...photo, id: ids[at] as string })),
      preview: masked(front(of, scopesOf(of)), maskFor(app.db, share).name),
      links: sharesOf(app.db, app.clock, request.actor, vehicle.id),
    })
    return reply.page('b/hand-over', facts, {
      title: `Hand over ${vehicle.name}`,
      section: 'vehicles',
      trail: trailOf(vehicle),
      status: more.made ? 201 : faults.length > 0 ? 422 : statusOf(day),
      scripts: more.made ? ['copy'] : [],
    })
  }

  app.get('/vehicles/:id/hand-over', OWNERS, async (request, reply) => {
    const form = new FormReader(request.query)
    const handOver = read(request, form)
    return show(request, reply, { form, handOver, faults: formFaults(form.faults, (field) => FIELDS[field] ?? field) })
  })

  app.post('/vehicles/:id/hand-over-previews', OWNERS, async (request, reply) => {
    const form = new FormReader(request.body)
    const handOver = read(request, form)
    if (form.faults.length > 0)
      return show(request, reply, { form, handOver, faults: formFaults(form.faults, (field) => FIELDS[field] ?? field) })
    return reply.redirect(`${handOverHref(vehicleFrom(app, request).id, handOver)}#preview`, 303)
  })

  app.post('/vehicles/:id/hand-over', OWNERS, async (request, reply) => {
    const vehicle = vehicleFrom(app, request)
    const form = new FormReader(request.body)
    const handOver = read(request, form)
    const label = (field: string) => FIELDS[field] ?? field
    if (form.faults.length > 0) return show(request, reply, { form, handOver, faults: formFaults(form.faults, label) })
    const { recipient, expiresOn, shows } = handOver
    const made = makeShare(app.db, app.clock, request.actor, { vehicleId: vehicle.id, recipient, expiresOn, shows })
    if (!made.ok) return show(request, reply, { form, handOver, faults: refusalFaults(made.refusals, { field: (one) => one, label }) })
    return show(request, reply, { form, handOver, made: absolute(request, `/b/${made.value.token}`) })
  })

  app.post('/vehicles/:id/hand-over/:share/revocations', OWNERS, async (request, reply) => {
    const { share } = request.params as { share: string }
    const vehicle = vehicleFrom(app, request)
    if (!revokeShare(app.db, app.clock, request.actor, { vehicleId: vehicle.id, id: share })) throw new NotFound()
    return reply.redirect(`/vehicles/${vehicle.id}/hand-over#links`, 303)
  })

  const preview = async (request: FastifyRequest, reply: FastifyReply) => {
    const { page = '' } = request.params as { page?: string }
    const handOver = read(request, new FormReader(request.query))
    const { vehicleId } = shareOf(request, handOver)
    const made = await buildPage(given(request, handOver), page, { backHref: handOverHref(vehicleId, handOver) })
    if (!made) throw new NotFound()
    return reply.page(made.template, made.view, { title: made.title, styles: made.styles })
  }
  app.get('/vehicles/:id/hand-over/preview', OWNERS, preview)
  app.get('/vehicles/:id/hand-over/preview/:page', OWNERS, preview)
  app.get('/vehicles/:id/hand-over/preview/p/:file', OWNERS, async (request, reply) => {
    const share = shareOf(request, read(request, new FormReader(request.query)))
    const { file } = request.params as { file: string }
    const picture = await bareFile(app, share, file)
    if (picture === null) throw new NotFound()
    return reply.header('cache-control', 'no-store').type('image/jpeg').send(createReadStream(picture))
  })
}
