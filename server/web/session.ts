/** Who is asking: the session cookie, or the way to sign in. */
import { createHmac, randomBytes } from 'node:crypto'
import type { FastifyReply, FastifyRequest } from 'fastify'
import plugin from 'fastify-plugin'

export const SESSION_COOKIE = 'loombook_session'
const VISITOR_COOKIE = 'loombook_visitor'
/** Tells a device that has signed in before from one that guesses. */
export const DEVICE_COOKIE = 'loombook_device'

type Person = {
  readonly householdId: string
  readonly personId: string
  readonly name: string
  readonly role?: 'owner' | 'editor' | 'viewer'
}
type Options = {
  readonly find: (token: string) => { readonly actor: Person; readonly formSecret: string; readonly isConfirmed: boolean } | null
  readonly isFirstRun: () => boolean
}

const open = ['/login', '/sessions', '/sessions/second-factor', '/first-run', '/healthz']
/** Addresses whose last piece is a secret of their own. */
const openUnder = ['/join/']

export const sessions = plugin<Options>(async (app, options) => {
  app.decorateRequest('actor', null as never)
  app.decorateRequest('signedIn', false)
  app.decorateRequest('formToken', '')
  app.decorateRequest('isConfirmed', false)
  app.decorateRequest('sessionToken', null)
  app.addHook('onRequest', async (request, reply) => {
    if (request.url.startsWith('/static/') || isForPrograms(request)) return
    const token = request.cookies[SESSION_COOKIE]
    const session = token ? options.find(token) : null
    if (session) {
      request.actor = session.actor
      request.signedIn = true
      request.isConfirmed = session.isConfirmed
      request.sessionToken = token as string
      request.formToken = tokenFrom(session.formSecret)
      return
    }
    request.formToken = tokenFrom(visitorSecret(request, reply))
    const path = request.url.split('?')[0] as string
    if (open.includes(path) || openUnder.some((start) => path.startsWith(start))) return
    if (options.isFirstRun()) return reply.redirect('/first-run', 303)
    if (request.headers.accept?.startsWith('application/json'))
      return reply.status(401).send({ says: 'You are signed out. Sign in on another tab, then try again here: what you typed is kept.' })
    if (request.headers['hx-request'] === 'true')
      return reply.fragment(
        'error/_piece',
        { says: 'You are signed out. Sign in on another tab, then try again here: what you typed is kept.', id: request.id },
        { status: 401 },
      )
    const next = request.method === 'GET' ? `?next=${encodeURIComponent(request.url)}` : ''
    return reply.redirect(`/login${next}`, 303)
  })
})

/** Programs show a token of their own there: no cookie counts, so neither does a form's token. */
export function isForPrograms(request: FastifyRequest): boolean {
  return request.url.startsWith('/api/')
}

/** What a list of sessions shows of where one was begun. */
export function cameFrom(request: FastifyRequest): { readonly device: string; readonly address: string } {
  return { device: String(request.headers['user-agent'] ?? ''), address: request.ip }
}

/** Cookie flags that hold on plain http too; Secure only where the request came by https. */
export function cookieFlags(request: FastifyRequest) {
  return { path: '/', httpOnly: true, sameSite: 'lax', secure: request.protocol === 'https' } as const
}

/** Only a path of this site, else the first page. */
export function localPath(next: unknown): string {
  return typeof next === 'string' && /^\/(?![/\\])[^\\\s]*$/.test(next) && !/%(2f|5c)/i.test(next.slice(0, 8)) ? next : '/'
}

function visitorSecret(request: FastifyRequest, reply: FastifyReply): string {
  const known = request.cookies[VISITOR_COOKIE]
  if (known && /^[\w-]{43}$/.test(known)) return known
  const secret = randomBytes(32).toString('base64url')
  reply.setCookie(VISITOR_COOKIE, secret, cookieFlags(request))
  return secret
}

function tokenFrom(secret: string): string {
  return createHmac('sha256', secret).update('form').digest('base64url')
}
