import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { addWebhook, deliverDue, queueTest, revokeWebhook, webhooksOf } from '../../records/webhooks.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { faultOfTarget } from '../../web/outbound.ts'
import { refusalFaults, type ShownFault } from '../shared/faults.ts'
import { pressMark, pressSays } from '../shared/press.ts'
import { view } from './view.ts'

const OWNERS = { config: { needs: 'owner' } } as const
const CONFIRMED = { config: { needs: 'owner', confirmAt: `/webhooks?${pressMark('confirmed')}` } } as const

export function register(app: FastifyInstance): void {
  const faultOf = (url: string) => faultOfTarget(url, { allowsPrivate: app.config.allowPrivateTargets === true })
  const idOf = (request: FastifyRequest) => (request.params as { id: string }).id
  const show = (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { readonly faults: readonly ShownFault[]; readonly secret: string; readonly status: number },
  ) => {
    const typed = given.faults.length > 0 ? new FormReader(request.body).typed('url') : ''
    const facts = view({
      webhooks: webhooksOf(app.db, request.actor),
      typed,
      timeZone: app.config.timeZone,
      done: pressSays(request.query),
      ...given,
    })
    const trail = [{ href: '/people', label: 'People' }]
    return reply.page('webhooks/show', facts, { title: 'Webhooks', section: 'settings', trail, status: given.status })
  }

  app.get('/webhooks', OWNERS, async (request, reply) => show(request, reply, { faults: [], secret: '', status: 200 }))

  app.post('/webhooks', CONFIRMED, async (request, reply) => {
    const url = new FormReader(request.body).typed('url')
    const added = addWebhook(app.db, app.clock, request.actor, { url, faultOf })
    if (added.ok) return show(request, reply, { faults: [], secret: added.value.secret, status: 201 })
    return show(request, reply, { faults: refusalFaults(added.refusals, { label: () => 'Address' }), secret: '', status: 422 })
  })

  app.post('/webhooks/:id/revocations', OWNERS, async (request, reply) => {
    if (!revokeWebhook(app.db, app.clock, request.actor, idOf(request))) throw new NotFound()
    return reply.redirect('/webhooks', 303)
  })

  app.post('/webhooks/:id/tests', OWNERS, async (request, reply) => {
    const only = queueTest(app.db, app.clock, request.actor, idOf(request))
    if (only === null) throw new NotFound()
    await deliverDue(app.db, app.clock, { send: app.outbound, only })
    return reply.redirect('/webhooks', 303)
  })
}
