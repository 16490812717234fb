/** Who is asking: the session cookie, or the way to sign in. */
import { createHmac, randomBytes } from 'node:crypto'
import type { FastifyReply, FastifyRequest } from 'fastify'
import plugin from 'fastify-plugin'

export const SESSION_COOKIE = 'loombook_session'
const VISITOR_COOKIE = 'loombook_visitor'

type Person = { readonly householdId: string; readonly personId: string; readonly name: string }
type Options = {
  readonly find: (token: string) => { readonly actor: Person; readonly formSecret: string } | null
  readonly isFirstRun: () => boolean
}

const open = ['/login', '/sessions', '/first-run', '/healthz']
/** Addresses that hold their own token: no cookie is read or set there. */
const byToken = /^\/feeds\/[^/]+\.(ics|atom)$/

export const sessions = plugin<Options>(async (app, options) => {
  app.decorateRequest('actor', null as never)
  app.decorateRequest('signedIn', false)
  app.decorateRequest('formToken', '')
  app.addHook('onRequest', async (request, reply) => {
    const path = request.url.split('?')[0] as string
    if (path.startsWith('/static/') || byToken.test(path)) return
    const token = request.cookies[SESSION_COOKIE]
    const session = token ? options.find(token) : null
    if (session) {
      request.actor = session.actor
      request.signedIn = true
      request.formToken = tokenFrom(session.formSecret)
      return
    }
    request.formToken = tokenFrom(visitorSecret(request, reply))
    if (open.includes(path)) return
    if (options.isFirstRun()) return reply.redirect('/first-run', 303)
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
