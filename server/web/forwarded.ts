/** Who a proxy says it let through: taken from trusted proxies only. From anybody else the header is ignored, and that is told once in a while. */
import type { FastifyRequest } from 'fastify'

const TOLD_AGAIN_ms = 60 * 60_000
const MOST_ADDRESSES = 1000

export type Proxied = {
  /** the header's name, in lower case */
  readonly header: string
  readonly isTrusted: (address: string) => boolean
  readonly ignored: (request: FastifyRequest) => void
}

/** Reads the header of a request; null where there is none that counts. */
export function forwarded(given: Proxied): (request: FastifyRequest) => string | null {
  const told = new Map<string, number>()
  return (request) => {
    const value = request.headers[given.header]
    if (value === undefined) return null
    const peer = request.socket.remoteAddress ?? ''
    if (given.isTrusted(peer)) return nameIn(value)
    const now_ms = performance.now()
    if (now_ms - (told.get(peer) ?? Number.NEGATIVE_INFINITY) > TOLD_AGAIN_ms) {
      if (told.size >= MOST_ADDRESSES) told.clear()
      told.set(peer, now_ms)
      given.ignored(request)
    }
    return null
  }
}

/** Bytes of a header arrive as Latin-1; proxies write names in UTF-8. One value, or none. */
function nameIn(value: string | readonly string[]): string | null {
  if (typeof value !== 'string') return null
  const name = Buffer.from(value, 'latin1').toString('utf8').trim()
  return name === '' || name.length > 200 ? null : name
}
