import type { FastifyRequest } from 'fastify'
import { ourHosts } from './site.ts'

/** Why a request is not from one of our own pages; null where nothing says so. */
export function foreign(request: FastifyRequest): string | null {
  const { origin } = request.headers
  if (request.headers['sec-fetch-site'] === 'cross-site') return 'The request came from another site.'
  if (origin === undefined) return null
  try {
    return ourHosts(request).includes(new URL(origin).host) ? null : 'The request came from another site.'
  } catch {
    return 'The request does not say where it came from.'
  }
}

/** Whether the browser itself says that the request came from one of our pages; an old one says nothing. */
export function isSurelyOurs(request: FastifyRequest): boolean {
  return foreign(request) === null && (request.headers['sec-fetch-site'] === 'same-origin' || request.headers.origin !== undefined)
}
