/** Who is asking: the session cookie, or the way to sign in. */
import { createHmac, randomBytes } from 'node:crypto'
import type { FastifyReply, FastifyRequest } from 'fastify'
import plugin from 'fastify-plugin'
import { cookieFlags, ourCookie, setOurCookie } from './cookies.ts'
import { foreign } from './foreign.ts'
import { fieldsWorthKeeping } from './kept-forms.ts'
import { isByToken } from './logged-address.ts'

export const SESSION_COOKIE = 'loombook_session'
const VISITOR_COOKIE = 'loombook_visitor'
/** Tells a device that has signed in before from one that guesses. */
export const DEVICE_COOKIE = 'loombook_device'
/** Read by our script in the browser, which then lets go of its own copy of what was typed. */
const SAVED_COOKIE = 'loombook_saved'
/** More than this is not read from somebody who is signed out. */
const MOST_BYTES_SIGNED_OUT = 256 * 1024

type Person = {
  readonly householdId: string
  readonly personId: string
  readonly name: string
  readonly role?: 'owner' | 'editor' | 'viewer'
}
type Options = {
  readonly find: (token: string) => { readonly actor: Person; readonly formSecret: string; readonly isConfirmed: boolean } | null
  readonly isFirstRun: () => boolean
  /** what the page at the door offers besides a password */
  readonly otherWays: (request: FastifyRequest) => Promise<object>
  /** whom a trusted proxy let through; nothing where that counts for nothing */
  readonly byProxy?: {
    readonly nameOf: (request: FastifyRequest) => string | null
    readonly isName: (actor: Person, name: string) => boolean
    /** the token of a session; null for a name that nobody has */
    readonly enter: (name: string, from: { readonly device: string; readonly address: string }) => string | null
  }
}

const open = [
  '/login',
  '/sessions',
  '/sessions/passkey',
  '/sessions/provider',
  '/sessions/provider/return',
  '/sessions/second-factor',
  '/sessions/second-factor/passkey',
  '/first-run',
  '/first-run/backups',
  '/first-run/restorations',
]
/** Addresses whose last piece is a secret of their own. */
const openUnder = ['/join/', '/new-password/']
/** Asked by machines that watch over this one: no cookie is read or set there. */
const forMachines = ['/healthz', '/readyz', '/metrics']
/** For everybody alike: nothing there depends on who asks. */
const forAll = ['/robots.txt']

export const sessions = plugin<Options>(async (app, options) => {
  app.decorateRequest('actor', null as never)
  app.decorateRequest('signedIn', false)
  app.decorateRequest('formToken', '')
  app.decorateRequest('isConfirmed', false)
  app.decorateRequest('sessionToken', null)
  app.decorateRequest('cameWithoutCookie', false)
  app.addHook('onRequest', async (request, reply) => {
    const path = request.url.split('?')[0] as string
    if (
      path.startsWith('/static/') ||
      forMachines.includes(path) ||
      forAll.includes(path) ||
      isByToken(request.url) ||
      isForPrograms(request)
    )
      return
    const { token, session } = sessionBehind(request, reply, options)
    if (session) return comeIn(request, token as string, session)
    request.formToken = tokenFrom(visitorSecret(request, reply))
    if (isOpen(request)) return
    if (options.isFirstRun()) return reply.redirect('/first-run', 303)
    if (request.headers.accept?.startsWith('application/json'))
      return reply.status(401).send({ says: 'You are signed out. Sign in on another tab, then try again here: what you typed is kept.' })
    if (request.headers['hx-request'] === 'true')
      return reply.fragment(
        'error/_piece',
        { says: 'You are signed out. Sign in on another tab, then try again here: what you typed is kept.', id: request.id },
        { status: 401 },
      )
    if (mayBeTyped(request)) return
    const next = request.method === 'GET' ? `?next=${encodeURIComponent(request.url)}` : ''
    return reply.redirect(`/login${next}`, 303)
  })
  // A body may be long on its way: whose it is, and what they may do, counts as of when it has come.
  app.addHook('preHandler', async (request, reply) => {
    const token = request.sessionToken
    if (token === null || request.method !== 'POST') return
    const session = options.find(token)
    if (session) return comeIn(request, token, session)
    request.actor = null as never
    request.signedIn = false
    request.sessionToken = null
    request.formToken = tokenFrom(visitorSecret(request, reply))
    if (!isOpen(request) && !mayBeTyped(request)) return reply.redirect('/login', 303)
  })
  // A form sent after the session ended: its fields go along to the sign-in page, and nothing else is done with them.
  app.addHook('preHandler', async (request, reply) => {
    if (request.actor !== null || isOpen(request) || !mayBeTyped(request)) return
    const at = localPath((request.body as Record<string, unknown> | null | undefined)?._at)
    if (at === '/' || foreign(request) !== null) return reply.redirect('/login', 303)
    const kept = fieldsWorthKeeping(request.body)
    const says = kept
      ? 'You were signed out, and nothing was saved. What you typed is kept here: sign in, and it is back.'
      : 'You were signed out, and nothing was saved. What you typed is too long to carry along: sign in on another tab, then send it again from there.'
    const door = { ...(await options.otherWays(request)), faults: [], next: at, name: '', kept: kept ?? [], says }
    return reply.page('login/show', door, { title: 'Sign in', status: 401, scripts: ['passkey'] })
  })
})

function comeIn(request: FastifyRequest, token: string, session: NonNullable<ReturnType<Options['find']>>): void {
  request.actor = session.actor
  request.signedIn = true
  request.isConfirmed = session.isConfirmed
  request.sessionToken = token
  request.formToken = tokenFrom(session.formSecret)
}

/** By the cookie; where a proxy names somebody else than the session does, the proxy's word counts. */
function sessionBehind(request: FastifyRequest, reply: FastifyReply, options: Options) {
  const cookie = ourCookie(request, SESSION_COOKIE)
  const session = cookie ? options.find(cookie) : null
  const name = options.byProxy?.nameOf(request) ?? null
  if (name === null || options.byProxy === undefined) return { token: cookie, session }
  if (session !== null && options.byProxy.isName(session.actor, name)) return { token: cookie, session }
  const token = options.byProxy.enter(name, cameFrom(request))
  if (token === null) return { token: undefined, session: null }
  setOurCookie(reply, SESSION_COOKIE, token)
  return { token, session: options.find(token) }
}

/** Programs show a token of their own there: no cookie counts, so neither does a form's token. */
export function isForPrograms(request: FastifyRequest): boolean {
  return /^\/api(?=[/?]|$)/.test(request.url)
}

/** Addresses that anybody may ask for. */
function isOpen(request: FastifyRequest): boolean {
  const path = request.url.split('?')[0] as string
  return open.includes(path) || openUnder.some((start) => path.startsWith(start))
}

/** What a list of sessions shows of where one was begun. */
export function cameFrom(request: FastifyRequest): { readonly device: string; readonly address: string } {
  return { device: String(request.headers['user-agent'] ?? ''), address: request.ip }
}

/** A form of ours, of a size that a person types. */
function mayBeTyped(request: FastifyRequest): boolean {
  const { 'content-type': type = '', 'content-length': length = '' } = request.headers
  return (
    request.method === 'POST' && type.startsWith('application/x-www-form-urlencoded') && Number(length || Infinity) <= MOST_BYTES_SIGNED_OUT
  )
}

/** Says to the browser that the form sent under this key is stored. */
export function tellSaved(request: FastifyRequest, reply: FastifyReply, once: string): void {
  if (/^[\w-]{1,100}$/.test(once)) reply.setCookie(SAVED_COOKIE, once, { ...cookieFlags(request), httpOnly: false, maxAge: 86_400 })
}

/** Only a path of this site, else the first page. */
export function localPath(next: unknown): string {
  return typeof next === 'string' && /^\/(?![/\\])[^\\\s]*$/.test(next) && !/%(2f|5c)/i.test(next.slice(0, 8)) ? next : '/'
}

function visitorSecret(request: FastifyRequest, reply: FastifyReply): string {
  const known = ourCookie(request, VISITOR_COOKIE)
  if (known && /^[\w-]{43}$/.test(known)) return known
  request.cameWithoutCookie = true
  const secret = randomBytes(32).toString('base64url')
  setOurCookie(reply, VISITOR_COOKIE, secret)
  return secret
}

function tokenFrom(secret: string): string {
  return createHmac('sha256', secret).update('form').digest('base64url')
}
