import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { changePassword, peopleOf } from '../../records/people.ts'
import { addressOfSecret, offerSecondFactor, recoveryCodesLeft, removeSecondFactor, setSecondFactor } from '../../records/second-factor.ts'
import { endSessionNamed, endSessionsOf, sessionsOf } from '../../records/sessions.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { refusalFaults, type ShownFault } from '../shared/faults.ts'
import { secondFactorView, view } from './view.ts'

const OWN = { config: { needs: 'viewer' } } as const
const CONFIRMED = { config: { needs: 'viewer', confirmAt: '/account' } } as const

export function register(app: FastifyInstance): void {
  const show = (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { readonly faults: readonly ShownFault[]; readonly status: number; readonly done: string },
  ) => {
    const self = peopleOf(app.db, request.actor).find((one) => one.id === request.actor.personId)
    const facts = view({
      hasSecondFactor: self?.hasSecondFactor === true,
      codesLeft: recoveryCodesLeft(app.db, request.actor),
      sessions: sessionsOf(app.db, request.actor, request.sessionToken ?? ''),
      timeZone: app.config.timeZone,
      ...given,
    })
    return reply.page('account/show', facts, { title: 'Your account', section: 'settings', status: given.status })
  }

  app.get('/account', async (request, reply) => show(request, reply, { faults: [], status: 200, done: '' }))

  app.post('/account/passwords', OWN, async (request, reply) => {
    const form = new FormReader(request.body)
    const [present, next] = [form.typed('present'), form.typed('next')]
    const changed = await changePassword(app.db, app.clock, request.actor, { present, next, token: request.sessionToken })
    if (!changed.ok)
      return show(request, reply, { faults: refusalFaults(changed.refusals, { field: (field) => field }), status: 422, done: '' })
    return show(request, reply, {
      faults: [],
      status: 200,
      done: `The password is changed; ${changed.value.ended} other sessions were ended.`,
    })
  })

  app.get('/account/second-factor', { config: { confirmAt: '/account/second-factor' } }, async (request, reply) =>
    reply.page('account/second-factor', secondFactorView({ ...offerSecondFactor(request.actor), faults: [] }), {
      title: 'A second factor',
      section: 'settings',
      trail: [{ href: '/account', label: 'Your account' }],
    }),
  )

  app.post('/account/second-factor', CONFIRMED, async (request, reply) => {
    const form = new FormReader(request.body)
    const secret = form.text('secret', { max: 64 })
    const address = addressOfSecret(request.actor, secret)
    if (address === null) throw new NotFound()
    const page = { title: 'A second factor', section: 'settings', trail: [{ href: '/account', label: 'Your account' }] } as const
    const set = setSecondFactor(app.db, app.clock, request.actor, { secret, code: form.text('code', { max: 20 }) })
    if (!set.ok)
      return reply.page('account/second-factor', secondFactorView({ secret, address, faults: refusalFaults(set.refusals) }), {
        ...page,
        status: 422,
      })
    return reply.page('account/recovery', { codes: set.value.recoveryCodes }, { ...page, title: 'Recovery codes' })
  })

  app.post('/account/second-factor/removals', CONFIRMED, async (request, reply) => {
    removeSecondFactor(app.db, app.clock, request.actor)
    return reply.redirect('/account', 303)
  })

  app.post('/account/sessions/:id/ends', OWN, async (request, reply) => {
    if (!endSessionNamed(app.db, request.actor, (request.params as { id: string }).id)) throw new NotFound()
    return reply.redirect('/account', 303)
  })

  app.post('/account/sessions/ends', OWN, async (request, reply) => {
    const { personId: id, householdId } = request.actor
    endSessionsOf(app.db, { id, householdId }, request.sessionToken)
    return reply.redirect('/account', 303)
  })
}
