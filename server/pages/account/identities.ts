/** Accounts at a provider that let the person in who is signed in, and the address they are known by there. */
import type { FastifyInstance, FastifyRequest } from 'fastify'
import { removeIdentity, setEmail } from '../../records/identities.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { refusalFaults } from '../shared/faults.ts'
import { CONFIRMED } from './confirmed.ts'
import type { Show } from './routes.ts'

export function register(app: FastifyInstance, show: Show): void {
  const idOf = (request: FastifyRequest) => (request.params as { id: string }).id

  app.post('/account/identities/:id/removals', CONFIRMED, async (request, reply) => {
    if (!removeIdentity(app.db, app.clock, request.actor, idOf(request)).ok) throw new NotFound()
    return reply.redirect('/account', 303)
  })

  app.post('/account/emails', CONFIRMED, async (request, reply) => {
    const set = setEmail(app.db, app.clock, request.actor, new FormReader(request.body).text('email', { max: 255 }))
    if (set.ok) return reply.redirect('/account', 303)
    return show(request, reply, { faults: refusalFaults(set.refusals), status: set.refusals[0]?.status ?? 422, done: '' })
  })
}
