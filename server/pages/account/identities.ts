/** Accounts at a provider that let the person in who is signed in. */
import type { FastifyInstance, FastifyRequest } from 'fastify'
import { removeIdentity } from '../../records/identities.ts'
import { NotFound } from '../../web/error-pages.ts'
import { CONFIRMED } from './confirmed.ts'

export function register(app: FastifyInstance): void {
  const idOf = (request: FastifyRequest) => (request.params as { id: string }).id

  app.post('/account/identities/:id/removals', CONFIRMED, async (request, reply) => {
    if (!removeIdentity(app.db, app.clock, request.actor, idOf(request)).ok) throw new NotFound()
    return reply.redirect('/account', 303)
  })
}
