/** Where this site is, for links that leave it; and where a request came from. */
import type { FastifyRequest } from 'fastify'

/** An address of ours with scheme and host: as the owner configured it, else as this request found us. */
export function absolute(request: FastifyRequest, path: string): string {
  const { baseUrl, basePath = '' } = request.server.config
  return `${baseUrl ?? `${request.protocol}://${request.host}${basePath}`}${path}`
}

/**
 * The names under which browsers know us: as the request has it (a trusted proxy's word where there is one), and as configured. Some proxies
 * put a name of their own into Host.
 */
export function ourHosts(request: FastifyRequest): readonly string[] {
  const { baseUrl } = request.server.config
  return [request.host, ...(baseUrl === undefined ? [] : [new URL(baseUrl).host])]
}

/**
 * On this very machine, and not passed on by a proxy: behind one everybody seems to be here. Some proxies say nothing of themselves; those
 * speak HTTP/1.0, which no browser does, or are the one that is trusted.
 */
export function isFromHere(request: FastifyRequest): boolean {
  const isByProxy = request.raw.httpVersion === '1.0' || isTrusted(request)
  // A name of somebody's own that leads here is that somebody's page, not ours.
  const isNamedHere = /^(localhost|127\.\d+\.\d+\.\d+|\[?::1\]?)$/i.test(request.hostname)
  return (
    isNamedHere && !isByProxy && !isPassedOnByAnybody(request) && /^(127\.\d+\.\d+\.\d+|::1|::ffff:127\.\d+\.\d+\.\d+)$/.test(request.ip)
  )
}

/** By a proxy that nobody said to trust: where it comes from nobody knows. */
export function isPassedOnByAnybody(request: FastifyRequest): boolean {
  const isPassedOn = ['forwarded', 'x-forwarded-for', 'x-real-ip', 'via'].some((name) => request.headers[name] !== undefined)
  return isPassedOn && !isTrusted(request)
}

function isTrusted(request: FastifyRequest): boolean {
  return request.server.config.trustedProxies?.holds(request.socket.remoteAddress ?? '') === true
}
