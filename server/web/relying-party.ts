/** Where passkeys work: a host name, by https, or this very machine (W3C Web Authentication, 5.1.2 and "secure contexts"). */
import { isIP } from 'node:net'
import type { FastifyRequest } from 'fastify'
import { absolute } from './site.ts'

/**
 * The host name that keys are made for and the origin the browser names: as the owner configured the site's address, else as this request
 * found us. Null where browsers allow none.
 */
export function relyingParty(request: FastifyRequest): { readonly id: string; readonly origin: string } | null {
  // Parsing writes a host name in lower case and leaves the usual port away, as browsers do when they name an origin.
  const site = absolute(request, '/')
  if (!URL.canParse(site)) return null
  const { hostname: id, protocol, origin } = new URL(site)
  const isHere = id === 'localhost' || id.endsWith('.localhost')
  if (isIP(id.replace(/^\[|\]$/g, '')) !== 0 || !(protocol === 'https:' || isHere)) return null
  return { id, origin }
}
