import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { makeToken, revokeToken, tokensOf } from '../../records/api-tokens.ts'
import { NotFound } from '../../web/error-pages.ts'
import type { ShownFault } from '../shared/faults.ts'
import { formFaults, refusalFaults } from '../shared/faults.ts'
import { pressMark, pressSays } from '../shared/press.ts'
import { label, tokenForm } from './form.ts'
import { view } from './view.ts'

const OWNERS = { config: { needs: 'owner' } } as const
const CONFIRMED = { config: { needs: 'owner', confirmAt: `/tokens?${pressMark('confirmed')}` } } as const

export function register(app: FastifyInstance): void {
  const show = (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { readonly faults: readonly ShownFault[]; readonly token: string; readonly status: number },
  ) => {
    const tokens = tokensOf(app.db, app.clock, request.actor)
    const facts = view({ tokens, form: tokenForm(request.body), timeZone: app.config.timeZone, done: pressSays(request.query), ...given })
    const trail = [{ href: '/people', label: 'People' }]
    return reply.page('tokens/show', facts, { title: 'Tokens for programs', section: 'settings', trail, status: given.status })
  }

  app.get('/tokens', OWNERS, async (request, reply) => show(request, reply, { faults: [], token: '', status: 200 }))

  app.post('/tokens', CONFIRMED, async (request, reply) => {
    const form = tokenForm(request.body)
    if (form.faults.length > 0) return show(request, reply, { faults: formFaults(form.faults, label), token: '', status: 422 })
    const made = makeToken(app.db, app.clock, request.actor, form)
    if (!made.ok) return show(request, reply, { faults: refusalFaults(made.refusals, { label }), token: '', status: 422 })
    return show(request, reply, { faults: [], token: made.value.token, status: 201 })
  })

  app.post('/tokens/:id/revocations', OWNERS, async (request, reply) => {
    if (!revokeToken(app.db, app.clock, request.actor, (request.params as { id: string }).id)) throw new NotFound()
    return reply.redirect('/tokens', 303)
  })
}
