import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { knownDeviceOf, type SignedIn, signIn, signInWithCode } from '../../records/people.ts'
import { noteSecurity } from '../../records/security-log.ts'
import { endSession } from '../../records/sessions.ts'
import { FormReader } from '../../web/form.ts'
import { type Field, fieldsWorthKeeping } from '../../web/kept-forms.ts'
import { cameFrom, cookieFlags, DEVICE_COOKIE, localPath, SESSION_COOKIE } from '../../web/session.ts'
import { refusalFaults, type ShownFault } from '../shared/faults.ts'

/** Before the name of a field that is only carried along: the form at the door has a `name` of its own. */
const CARRIED = 'kept-'

export function register(app: FastifyInstance): void {
  const again = (reply: FastifyReply, form: FormReader, given: { readonly faults: readonly ShownFault[]; readonly status: number }) =>
    reply.page(
      'login/show',
      {
        ...{ faults: given.faults, next: localPath(form.typed('next')), name: form.typed('name').slice(0, 200), kept: carried(form) },
        says: carried(form).length > 0 ? 'What you typed is still kept here.' : '',
      },
      { title: 'Sign in', status: given.status },
    )
  const enter = (request: FastifyRequest, reply: FastifyReply, given: { readonly signed: SignedIn; readonly form: FormReader }) => {
    const next = localPath(given.form.typed('next'))
    const kept = carried(given.form)
    if (given.signed.state === 'second-factor')
      return reply.page('login/second', { faults: [], ticket: given.signed.ticket, next, kept }, { title: 'Second step' })
    reply.setCookie(SESSION_COOKIE, given.signed.token, { ...cookieFlags(request), maxAge: 90 * 86_400 })
    reply.setCookie(DEVICE_COOKIE, given.signed.deviceToken, { ...cookieFlags(request), maxAge: 400 * 86_400 })
    if (kept.length === 0) return reply.redirect(next, 303)
    return reply.redirect(app.keptForms.address(next, { personId: given.signed.actor.personId, fields: kept }), 303)
  }
  /** Too many tries: how long to wait, the same for a name that nobody has. */
  const heldBack = (request: FastifyRequest, reply: FastifyReply, form: FormReader) => {
    const waits_s = app.signInLimits.waits_s(attemptOf(request, form))
    if (waits_s === 0) return null
    noteSecurity(app.db, app.clock, {
      kind: 'sign-in-held-back',
      says: `Name given: ${form.typed('name').slice(0, 80)}`,
      address: request.ip,
    })
    reply.header('retry-after', String(waits_s))
    const says = `Too many tries. Wait ${Math.ceil(waits_s / 60)} minutes, or sign in on a device that you have used here before.`
    return again(reply, form, { faults: [{ field: 'name', label: 'Name', says, link: '' }], status: 429 })
  }
  const attemptOf = (request: FastifyRequest, form: FormReader) => {
    const device = request.cookies[DEVICE_COOKIE]
    const name = form.typed('name').slice(0, 200)
    return {
      account: name.trim().toLowerCase(),
      address: request.ip,
      device: device ? knownDeviceOf(app.db, device, name) : null,
    }
  }

  app.get('/login', async (request, reply) => {
    if (request.signedIn) return reply.redirect('/', 303)
    const { next } = request.query as Record<string, unknown>
    return reply.page('login/show', { faults: [], next: localPath(next), name: '', kept: [], says: '' }, { title: 'Sign in' })
  })

  app.post('/sessions', async (request, reply) => {
    const form = new FormReader(request.body)
    const held = heldBack(request, reply, form)
    if (held) return held
    const name = form.text('name', { max: 200 })
    const signed = await signIn(app.db, app.clock, { name, password: form.typed('password'), from: cameFrom(request) })
    if (!signed.ok) {
      app.signInLimits.failed(attemptOf(request, form))
      return again(reply, form, { faults: refusalFaults(signed.refusals, { field: () => 'name' }), status: 422 })
    }
    app.signInLimits.succeeded(attemptOf(request, form))
    return enter(request, reply, { signed: signed.value, form })
  })

  app.post('/sessions/second-factor', async (request, reply) => {
    const form = new FormReader(request.body)
    const [ticket, next] = [form.typed('ticket').slice(0, 100), localPath(form.typed('next'))]
    const signed = signInWithCode(app.db, app.clock, { ticket, code: form.typed('code').slice(0, 40), from: cameFrom(request) })
    if (signed.ok) return enter(request, reply, { signed: signed.value, form })
    const faults = refusalFaults(signed.refusals)
    if (signed.refusals[0]?.code === 'sign-in-over') return again(reply, form, { faults, status: 401 })
    return reply.page('login/second', { faults, ticket, next, kept: carried(form) }, { title: 'Second step', status: 422 })
  })

  app.post('/sessions/end', { config: { needs: 'viewer' } }, async (request, reply) => {
    if (request.sessionToken !== null) endSession(app.db, request.sessionToken)
    reply.clearCookie(SESSION_COOKIE, { path: '/' })
    return reply.redirect('/login', 303)
  })
}

function carried(form: FormReader): readonly Field[] {
  const fields = Object.entries(form.body).filter(([name]) => name.startsWith(CARRIED))
  return fieldsWorthKeeping(Object.fromEntries(fields.map(([name, value]) => [name.slice(CARRIED.length), value]))) ?? []
}
