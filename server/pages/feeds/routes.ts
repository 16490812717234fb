/** Feeds made and revoked, and their addresses, which answer whoever has them. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { dueList } from '../../records/due.ts'
import { type FeedKind, feedsOf, makeFeed, openFeed, revokeFeed } from '../../records/feeds.ts'
import { stateOn } from '../../records/state.ts'
import { recordedAtOf, toldEntries } from '../../records/told.ts'
import { vehicleNames } from '../../records/vehicles.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { absolute } from '../../web/site.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'
import { todayOf } from '../shared/vehicle-facts.ts'
import { atomOf } from './atom.ts'
import { calendarOf } from './calendar.ts'
import { view } from './view.ts'

const KINDS: readonly FeedKind[] = ['due', 'journal']
const TYPES = { ics: 'text/calendar; charset=utf-8', atom: 'application/atom+xml; charset=utf-8' } as const

export function register(app: FastifyInstance): void {
  type Shown = { readonly faults?: readonly ShownFault[]; readonly form?: FormReader; readonly made?: string; readonly status?: number }
  const show = (request: FastifyRequest, reply: FastifyReply, given: Shown) => {
    const vehicles = vehicleNames(app.db, request.actor)
    const form = given.form ?? new FormReader({})
    const facts = view({ feeds: feedsOf(app.db, request.actor), vehicles, form, faults: given.faults ?? [], made: given.made ?? '' })
    const trail = [{ href: '/due', label: 'Due' }]
    return reply.page('feeds/show', facts, { title: 'Feeds', section: 'due', status: given.status ?? 200, trail })
  }

  app.get('/feeds', async (request, reply) => show(request, reply, {}))

  app.post('/feeds', async (request, reply) => {
    const form = new FormReader(request.body)
    const kind = form.choice<FeedKind>('kind', KINDS, 'due')
    const vehicleId = form.text('vehicle', { max: 40 })
    if (form.faults.length > 0) return show(request, reply, { form, faults: formFaults(form.faults), status: 422 })
    const made = makeFeed(app.db, app.clock, request.actor, { kind, ...(vehicleId === '' ? {} : { vehicleId }) })
    if (!made.ok) return show(request, reply, { form, faults: refusalFaults(made.refusals, { field: () => 'vehicle' }), status: 422 })
    const address = absolute(request, `/feeds/${made.value.token}.${kind === 'due' ? 'ics' : 'atom'}`)
    return show(request, reply, { made: address, status: 201 })
  })

  app.post('/feeds/revocations', async (request, reply) => {
    const done = revokeFeed(app.db, app.clock, request.actor, new FormReader(request.body).typed('feed'))
    return done.ok ? reply.redirect('/feeds', 303) : show(request, reply, { faults: refusalFaults(done.refusals), status: 404 })
  })

  app.get('/feeds/:address', async (request, reply) => {
    const [, token = '', ending = ''] = /^(.+)\.(ics|atom)$/.exec((request.params as { address: string }).address) ?? []
    if (token === '') throw new NotFound()
    const text = ending === 'ics' ? dueFeed(token) : journalFeed(token)
    reply.header('cache-control', 'no-store').header('x-robots-tag', 'noindex')
    // A wrong token, a revoked one and one of the other kind are answered alike.
    if (text === null) return reply.status(404).type('text/plain; charset=utf-8').send('There is nothing at this address.\n')
    return reply.type(TYPES[ending as keyof typeof TYPES]).send(text)
  })

  const dueFeed = (token: string): string | null => {
    const feed = openFeed(app.db, app.clock, { token, kind: 'due' })
    if (!feed) return null
    const { items } = dueList(app.db, feed.actor, {
      today: todayOf(app),
      ...(feed.vehicleId === null ? {} : { vehicleId: feed.vehicleId }),
    })
    const setBy = items.map(({ vehicleId, key }) => stateOn(app.db, feed.actor, vehicleId).due.get(key)?.entryId ?? '')
    const recordedAt = recordedAtOf(app.db, feed.actor, setBy)
    return calendarOf(items.map((item, n) => ({ ...item, recordedAt: recordedAt.get(setBy[n] ?? '') ?? '' })))
  }
  const journalFeed = (token: string): string | null => {
    const feed = openFeed(app.db, app.clock, { token, kind: 'journal' })
    if (!feed) return null
    const entries = toldEntries(app.db, feed.actor, feed.vehicleId)
    const feedId = feed.vehicleId ?? feed.actor.householdId
    return atomOf(entries, { feedId, title: 'Loombook: journal', since: app.clock.now().toISOString() })
  }
}
