/** Where passkeys work: a host name, by https, or this very machine (W3C Web Authentication, 5.1.2 and "secure contexts"). */
import { isIP } from 'node:net'
import type { FastifyRequest } from 'fastify'

/** The host name that keys are made for and the origin the browser names; null where browsers allow none. */
export function relyingParty(request: FastifyRequest): { readonly id: string; readonly origin: string } | null {
  const id = request.hostname.toLowerCase()
  const isHere = id === 'localhost' || id.endsWith('.localhost')
  if (isIP(id.replace(/^\[|\]$/g, '')) !== 0 || !(request.protocol === 'https' || isHere)) return null
  return { id, origin: `${request.protocol}://${request.host.toLowerCase()}` }
}
