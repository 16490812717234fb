import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { setEmail } from '../../records/identities.ts'
import { invite, openInvitations, peopleOf, revokeInvitation, setDisabled, setRole } from '../../records/people.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { absolute } from '../../web/site.ts'
import { refusalFaults, type ShownFault } from '../shared/faults.ts'
import { pressMark, pressSays } from '../shared/press.ts'
import { ROLES, view } from './view.ts'

const OWNERS = { config: { needs: 'owner' } } as const
const CONFIRMED = { config: { needs: 'owner', confirmAt: `/people?${pressMark('confirmed')}` } } as const

export function register(app: FastifyInstance): void {
  const show = (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { readonly faults: readonly ShownFault[]; readonly link: string; readonly status: number },
  ) => {
    const facts = view({
      people: peopleOf(app.db, request.actor),
      invitations: openInvitations(app.db, app.clock, request.actor),
      self: request.actor.personId,
      provider: app.config.provider ?? null,
      done: pressSays(request.query),
      ...given,
    })
    return reply.page('people/show', facts, { title: 'People', section: 'settings', status: given.status })
  }
  const idOf = (request: FastifyRequest) => (request.params as { id: string }).id

  app.get('/people', OWNERS, async (request, reply) => show(request, reply, { faults: [], link: '', status: 200 }))

  app.post('/people/invitations', CONFIRMED, async (request, reply) => {
    const role = new FormReader(request.body).choice('role', ROLES, 'viewer')
    const made = invite(app.db, app.clock, request.actor, role)
    if (!made.ok) return show(request, reply, { faults: refusalFaults(made.refusals), link: '', status: 422 })
    return show(request, reply, {
      faults: [],
      link: absolute(request, `/join/${made.value.token}`),
      status: 201,
    })
  })

  app.post('/people/invitations/:id/revocations', OWNERS, async (request, reply) => {
    if (!revokeInvitation(app.db, app.clock, request.actor, idOf(request))) throw new NotFound()
    return reply.redirect('/people', 303)
  })

  app.post('/people/:id/roles', CONFIRMED, async (request, reply) => {
    const form = new FormReader(request.body)
    const set = setRole(app.db, app.clock, request.actor, idOf(request), form.choice('role', ROLES, 'viewer'))
    if (set.ok) return reply.redirect('/people', 303)
    return show(request, reply, { faults: refusalFaults(set.refusals), link: '', status: set.refusals[0]?.status ?? 422 })
  })

  app.post('/people/:id/access', CONFIRMED, async (request, reply) => {
    const isDisabled = new FormReader(request.body).choice('access', ['closed', 'open'], 'closed') === 'closed'
    const set = setDisabled(app.db, app.clock, request.actor, idOf(request), isDisabled)
    if (set.ok) return reply.redirect('/people', 303)
    return show(request, reply, { faults: refusalFaults(set.refusals), link: '', status: set.refusals[0]?.status ?? 422 })
  })

  app.post('/people/:id/emails', CONFIRMED, async (request, reply) => {
    const personId = idOf(request)
    const set = setEmail(app.db, app.clock, request.actor, { personId, email: new FormReader(request.body).text('email', { max: 255 }) })
    if (set.ok) return reply.redirect('/people', 303)
    if (set.refusals[0]?.code === 'not-found') throw new NotFound()
    const faults = refusalFaults(set.refusals, { field: () => `email-${personId}`, label: () => 'E-mail address' })
    return show(request, reply, { faults, link: '', status: set.refusals[0]?.status ?? 422 })
  })
}
