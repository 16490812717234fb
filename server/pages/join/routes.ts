import type { FastifyInstance, FastifyRequest } from 'fastify'
import { invitationOf, join } from '../../records/people.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { refusalFaults, type ShownFault } from '../shared/faults.ts'

export function register(app: FastifyInstance): void {
  const tokenOf = (request: FastifyRequest) => (request.params as { token: string }).token
  const viewOf = (request: FastifyRequest, given: { readonly faults: readonly ShownFault[]; readonly name: string }) => {
    const invitation = invitationOf(app.db, app.clock, tokenOf(request))
    if (!invitation) throw new NotFound('This invitation does not work: it was used, taken back or is too old. Ask for another.')
    return { ...given, token: tokenOf(request), role: invitation.role }
  }

  app.get('/join/:token', async (request, reply) =>
    reply.page('join/show', viewOf(request, { faults: [], name: '' }), { title: 'Join this household' }),
  )

  app.post('/join/:token', { config: { needs: 'viewer' } }, async (request, reply) => {
    const form = new FormReader(request.body)
    const name = form.text('name', { max: 200 })
    const joined = await join(app.db, app.clock, { token: tokenOf(request), name, password: form.typed('password') })
    if (joined.ok) return reply.redirect('/login', 303)
    const facts = viewOf(request, { faults: refusalFaults(joined.refusals), name })
    return reply.page('join/show', facts, { title: 'Join this household', status: joined.refusals[0]?.status ?? 422 })
  })
}
