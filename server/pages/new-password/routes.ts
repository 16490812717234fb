/** The page that a link from the machine's own command opens: a new password, once. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { NO_LINK, passwordLinkOf, setPasswordByLink } from '../../records/password-links.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { refusalFaults, type ShownFault } from '../shared/faults.ts'

export type View = { readonly faults: readonly ShownFault[]; readonly token: string; readonly name: string }

export function register(app: FastifyInstance): void {
  const show = (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { readonly faults: readonly ShownFault[]; readonly status: number },
  ) => {
    const { token } = request.params as { token: string }
    const link = passwordLinkOf(app.db, app.clock, token)
    if (!link) throw new NotFound(NO_LINK)
    const view: View = { faults: given.faults, token, name: link.name }
    return reply.page('new-password/show', view, { title: 'A new password', status: given.status })
  }

  app.get('/new-password/:token', async (request, reply) => show(request, reply, { faults: [], status: 200 }))

  app.post('/new-password/:token', { config: { needs: 'viewer', evenReadOnly: true } }, async (request, reply) => {
    const { token } = request.params as { token: string }
    const set = await setPasswordByLink(app.db, app.clock, { token, password: new FormReader(request.body).typed('password') })
    if (set.ok) return reply.redirect('/login', 303)
    return show(request, reply, { faults: refusalFaults(set.refusals), status: set.refusals[0]?.status ?? 422 })
  })
}
