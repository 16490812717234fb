import type { FastifyInstance } from 'fastify'
import { signInWithPasskey } from '../../records/passkeys.ts'
import { signIn } from '../../records/people.ts'
import { noteSecurity } from '../../records/security-log.ts'
import { endSession } from '../../records/sessions.ts'
import { dropOurCookie } from '../../web/cookies.ts'
import { FormReader } from '../../web/form.ts'
import { relyingParty } from '../../web/relying-party.ts'
import { cameFrom, localPath, SESSION_COOKIE } from '../../web/session.ts'
import { refusalFaults } from '../shared/faults.ts'
import { pressSays } from '../shared/press.ts'
import { again, attemptAt, carried, type Door, goOn, heldBack, otherWays } from './door.ts'
import * as provider from './provider.ts'
import * as second from './second.ts'

export function register(app: FastifyInstance): void {
  second.register(app)
  provider.register(app)

  app.get('/login', async (request, reply) => {
    if (request.signedIn) return reply.redirect('/', 303)
    const { next } = request.query as Record<string, unknown>
    const says = pressSays(request.query)
    const door: Door = { ...(await otherWays(app, request)), faults: [], next: localPath(next), name: '', kept: [], says }
    return reply.page('login/show', door, { title: 'Sign in', scripts: ['passkey'] })
  })

  app.post('/sessions', { config: { evenReadOnly: true } }, async (request, reply) => {
    const form = new FormReader(request.body)
    const attempt = attemptAt(app, request, form.typed('name'))
    const waits_s = app.signInLimits.begin_s(attempt)
    if (waits_s > 0) return heldBack(app, reply, { form, waits_s, what: `Name given: ${form.typed('name').slice(0, 80)}` })
    const name = form.text('name', { max: 200 })
    const signed = await signIn(app.db, app.clock, { name, password: form.typed('password'), from: cameFrom(request) })
    if (!signed.ok) return again(app, reply, { form, faults: refusalFaults(signed.refusals, { field: () => 'name' }), status: 422 })
    app.signInLimits.succeeded(attempt)
    return goOn(app, reply, { signed: signed.value, next: localPath(form.typed('next')), kept: carried(form) })
  })

  app.post('/sessions/passkey', { config: { evenReadOnly: true } }, async (request, reply) => {
    const form = new FormReader(request.body)
    const attempt = { account: `passkey ${request.ip}`, address: request.ip, device: null }
    const waits_s = app.signInLimits.begin_s(attempt)
    if (waits_s > 0) return heldBack(app, reply, { form, waits_s, what: 'Passkey' })
    const signed = await signInWithPasskey(app.db, app.clock, {
      ...{ answer: form.typed('answer'), from: cameFrom(request) },
      party: relyingParty(request) ?? { id: '', origin: '' },
      takes: (challenge) => app.challenges.take(challenge, { purpose: 'sign-in', visitor: request.formToken }),
    })
    if (!signed.ok) return again(app, reply, { form, faults: refusalFaults(signed.refusals, { field: () => '' }), status: 422 })
    app.signInLimits.succeeded(attempt)
    return goOn(app, reply, { signed: signed.value, next: localPath(form.typed('next')), kept: carried(form) })
  })

  app.post('/sessions/end', { config: { needs: 'viewer', evenReadOnly: true } }, async (request, reply) => {
    if (request.sessionToken !== null) {
      endSession(app.db, request.sessionToken)
      const { householdId, personId, name } = request.actor
      noteSecurity(app.db, app.clock, { kind: 'signed-out', says: name, address: request.ip, householdId, personId })
    }
    dropOurCookie(reply, SESSION_COOKIE)
    return reply.redirect('/login', 303)
  })
}
