import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { emailOf, identitiesOf } from '../../records/identities.ts'
import { passkeysOf } from '../../records/passkeys.ts'
import { changePassword, peopleOf } from '../../records/people.ts'
import { addressOfSecret, offerSecondFactor, recoveryCodesLeft, removeSecondFactor, setSecondFactor } from '../../records/second-factor.ts'
import { endSessionNamed, endSessionsOf, sessionsOf } from '../../records/sessions.ts'
import { noteSecurity } from '../../records/security-log.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { relyingParty } from '../../web/relying-party.ts'
import { confirming, noteRefused } from '../shared/confirming.ts'
import { refusalFaults, type ShownFault } from '../shared/faults.ts'
import { pressSays } from '../shared/press.ts'
import { CONFIRMED } from './confirmed.ts'
import * as identities from './identities.ts'
import * as passkeys from './passkeys.ts'
import { secondFactorView, view } from './view.ts'

const OWN = { config: { needs: 'viewer' } } as const

export type Show = (
  request: FastifyRequest,
  reply: FastifyReply,
  given: { readonly faults: readonly ShownFault[]; readonly status: number; readonly done: string },
) => FastifyReply

export function register(app: FastifyInstance): void {
  const show: Show = (request, reply, given) => {
    const self = peopleOf(app.db, request.actor).find((one) => one.id === request.actor.personId)
    const facts = view({
      hasSecondFactor: self?.hasSecondFactor === true,
      hasCodes: self?.hasCodes === true,
      passkeys: passkeysOf(app.db, request.actor),
      party: relyingParty(request)?.id ?? null,
      codesLeft: recoveryCodesLeft(app.db, request.actor),
      provider: app.config.provider ?? null,
      pressed: Buffer.from(app.challenges.make({ purpose: 'connect', visitor: request.formToken })).toString('base64url'),
      identities: identitiesOf(app.db, request.actor),
      email: emailOf(app.db, request.actor),
      sessions: sessionsOf(app.db, request.actor, request.sessionToken ?? ''),
      timeZone: app.config.timeZone,
      ...given,
    })
    return reply.page('account/show', facts, { title: 'Your account', section: 'settings', status: given.status })
  }

  const noteEnded = (request: FastifyRequest, count: number) =>
    noteSecurity(app.db, app.clock, {
      ...{ kind: 'sessions-ended', says: `${count} of ${request.actor.name}`, address: request.ip },
      ...{ householdId: request.actor.householdId, personId: request.actor.personId },
    })

  passkeys.register(app, show)
  identities.register(app)

  app.get('/account', async (request, reply) => show(request, reply, { faults: [], status: 200, done: pressSays(request.query) }))

  app.post('/account/passwords', OWN, async (request, reply) => {
    const form = new FormReader(request.body)
    const [present, next] = [form.typed('present'), form.typed('next')]
    const attempt = confirming(request)
    const waits_s = app.signInLimits.begin_s(attempt)
    if (waits_s > 0) {
      noteRefused(app, request)
      reply.header('retry-after', String(waits_s))
      const says = `Too many tries. Wait ${Math.ceil(waits_s / 60)} minutes.`
      return show(request, reply, { faults: [{ field: 'present', label: 'Present password', says, link: '' }], status: 429, done: '' })
    }
    const changed = await changePassword(app.db, app.clock, request.actor, { present, next, token: request.sessionToken })
    if (changed.ok || changed.refusals[0]?.field !== 'present') app.signInLimits.succeeded(attempt)
    else noteRefused(app, request)
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

  app.post('/account/sessions/:id/ends', CONFIRMED, async (request, reply) => {
    if (!endSessionNamed(app.db, request.actor, (request.params as { id: string }).id)) throw new NotFound()
    noteEnded(request, 1)
    return reply.redirect('/account', 303)
  })

  app.post('/account/sessions/ends', CONFIRMED, async (request, reply) => {
    const { personId: id, householdId } = request.actor
    noteEnded(request, endSessionsOf(app.db, { id, householdId }, request.sessionToken))
    return reply.redirect('/account', 303)
  })
}
