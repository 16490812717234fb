/**
 * In by a provider of identities: off to it, and back. The same way connects an account with who is signed in. Both begin with a button
 * that was pressed here: another site that sends a browser to these addresses begins no session and connects nothing.
 */
import { createHmac, randomBytes, timingSafeEqual } from 'node:crypto'
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { connectIdentity, enterByIdentity, noteUnknownIdentity } from '../../records/identities.ts'
import { dropOurCookie, ourCookie, setOurCookie } from '../../web/cookies.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { AnswerRefused, type Provider } from '../../web/provider.ts'
import { cameFrom, localPath } from '../../web/session.ts'
import { absolute } from '../../web/site.ts'
import { refusalFaults } from '../shared/faults.ts'
import { pressMark } from '../shared/press.ts'
import { again, goOn, heldBack } from './door.ts'

/** One try's own secret, where it leads, and who was signed in when an account is to be connected. */
type Flow = { readonly secret: string; readonly next: string; readonly connects: string | null }

const FLOW_COOKIE = 'loombook_flow'
const FLOW_s = 10 * 60
const BACK = '/sessions/provider/return'

export function register(app: FastifyInstance): void {
  const ours = (): Provider => {
    if (app.provider === null) throw new NotFound()
    return app.provider
  }
  const key = randomBytes(32)
  /** Binds a try to the session, or the visitor, that began it: a neighbour of this site may plant a cookie, and a try of their own with it. */
  const sealOf = (request: FastifyRequest, value: string) =>
    createHmac('sha256', key)
      .update(JSON.stringify([request.formToken, value]))
      .digest('base64url')
  const flowOf = (request: FastifyRequest): Flow | null => {
    const [value = '', seal = ''] = (ourCookie(request, FLOW_COOKIE) ?? '').split('.')
    const [given, right] = [Buffer.from(seal), Buffer.from(sealOf(request, value))]
    return given.length === right.length && timingSafeEqual(given, right) ? flowIn(value) : null
  }
  const start = async (request: FastifyRequest, reply: FastifyReply, flow: Omit<Flow, 'secret'>) => {
    const secret = randomBytes(32).toString('base64url')
    const away = await ours().start({ secret, returnTo: absolute(request, BACK) })
    const value = Buffer.from(JSON.stringify({ secret, ...flow } satisfies Flow)).toString('base64url')
    setOurCookie(reply, FLOW_COOKIE, `${value}.${sealOf(request, value)}`, { maxAge_s: FLOW_s })
    return reply.header('cache-control', 'no-store').redirect(away.href, 303)
  }

  const wasPressed = (request: FastifyRequest, purpose: 'provider' | 'connect') => {
    const { pressed } = request.query as Record<string, unknown>
    return app.challenges.take(typeof pressed === 'string' ? pressed : '', { purpose, visitor: request.formToken })
  }

  app.get('/sessions/provider', async (request, reply) => {
    ours()
    const next = localPath((request.query as Record<string, unknown>).next)
    if (!wasPressed(request, 'provider')) return reply.redirect(`/login?next=${encodeURIComponent(next)}&${pressMark('too-old')}`, 303)
    return start(request, reply, { next, connects: null })
  })

  app.get('/account/identities/new', { config: { confirmAt: `/account?${pressMark('confirmed')}` } }, async (request, reply) => {
    ours()
    if (!wasPressed(request, 'connect')) return reply.redirect(`/account?${pressMark('too-old')}`, 303)
    return start(request, reply, { next: '/account', connects: request.actor.personId })
  })

  app.get(BACK, async (request, reply) => {
    const came = ours()
    const flow = flowOf(request)
    dropOurCookie(reply, FLOW_COOKIE)
    if (flow === null) throw new AnswerRefused('This answer belongs to no sign-in that was begun here, or it took too long. Start again.')
    const attempt = { account: `provider ${request.ip}`, address: request.ip, device: null }
    const form = new FormReader({ next: flow.next })
    const waits_s = app.signInLimits.begin_s(attempt)
    if (waits_s > 0) return heldBack(app, reply, { form, waits_s, what: 'Provider' })
    const cameBackTo = new URL(absolute(request, request.url))
    const identity = await came.finish({ secret: flow.secret, cameBackTo })
    app.signInLimits.succeeded(attempt)
    if (flow.connects !== null) return connect(app, request, reply, { identity, personId: flow.connects })
    const from = cameFrom(request)
    const linksByEmail = app.config.provider?.linksByEmail === true
    const signed = enterByIdentity(app.db, app.clock, { identity, linksByEmail, from })
    if (signed.ok) return goOn(app, reply, { signed: signed.value, next: flow.next, kept: [] })
    noteUnknownIdentity(app.db, app.clock, { identity, from })
    return again(app, reply, {
      form,
      faults: refusalFaults(signed.refusals, { field: () => '' }),
      status: signed.refusals[0]?.status ?? 403,
    })
  })
}

async function connect(
  app: FastifyInstance,
  request: FastifyRequest,
  reply: FastifyReply,
  given: { readonly identity: Parameters<typeof connectIdentity>[3]; readonly personId: string },
): Promise<FastifyReply> {
  if (!request.signedIn || request.actor.personId !== given.personId)
    throw new AnswerRefused('You are not signed in any more as who began this. Nothing was connected: sign in and start again.')
  const connected = connectIdentity(app.db, app.clock, request.actor, given.identity)
  if (connected.ok) return reply.redirect('/account', 303)
  const [first] = connected.refusals
  return reply.page(
    'error/show',
    { says: first?.sentence ?? '', id: request.id, back: { href: '/account', label: 'Back to your account' } },
    { title: 'Not done', status: first?.status ?? 409 },
  )
}

function flowIn(value: string): Flow | null {
  try {
    const { secret, next, connects } = JSON.parse(Buffer.from(value, 'base64url').toString('utf8')) as Record<string, unknown>
    if (typeof secret !== 'string' || !/^[\w-]{43}$/.test(secret)) return null
    return { secret, next: localPath(next), connects: typeof connects === 'string' ? connects : null }
  } catch {
    return null
  }
}
