/**
 * Our own cookies. Over https a name is bound to this host by its prefix, so that nobody next door can plant one, and travels by https
 * alone; on plain http browsers would drop such a cookie, so there it has neither. Which of the two it is, a trusted proxy says.
 */
import type { FastifyReply, FastifyRequest } from 'fastify'

export function cookieFlags(request: FastifyRequest) {
  return { path: '/', httpOnly: true, sameSite: 'lax', secure: isSecure(request) } as const
}

export function ourCookie(request: FastifyRequest, name: string): string | undefined {
  return request.cookies[nameOf(request, name)]
}

export function setOurCookie(reply: FastifyReply, name: string, value: string, given: { readonly maxAge_s?: number } = {}): void {
  const age = given.maxAge_s === undefined ? {} : { maxAge: given.maxAge_s }
  reply.setCookie(nameOf(reply.request, name), value, { ...cookieFlags(reply.request), ...age })
}

export function dropOurCookie(reply: FastifyReply, name: string): void {
  reply.clearCookie(nameOf(reply.request, name), cookieFlags(reply.request))
}

/** Why the cookie that our page set did not come back with its form. */
export function lostCookie(request: FastifyRequest): string {
  const cameBy = /^https?(?=:)/.exec(request.headers.origin ?? '')?.[0]
  if (isSecure(request) && cameBy === 'http')
    return 'Your browser came by http, but the proxy in front says https, so the cookie that signing in needs was not kept. Open the address with https, or have the proxy send the right X-Forwarded-Proto. Nothing was done.'
  return 'Your browser did not send back the cookie that this page sets, and without it nobody can sign in. Allow cookies for this address, reload the page and try again. Nothing was done.'
}

/** Under a folder of a site cookies have that folder as their path, which the stricter prefix does not bear. */
function nameOf(request: FastifyRequest, name: string): string {
  if (!isSecure(request)) return name
  return `${request.server.config.basePath ? '__Secure-' : '__Host-'}${name}`
}

function isSecure(request: FastifyRequest): boolean {
  return request.protocol === 'https'
}
