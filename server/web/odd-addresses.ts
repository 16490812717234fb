/** Addresses that nothing here could have made, answered with a page like any other instead of the framework's own words. */
import type { IncomingMessage } from 'node:http'
import plugin from 'fastify-plugin'

/** Ours have at most some 300 characters before the question mark; what is searched for may be longer. */
const LONGEST_path = 2048
/** As long as the router takes one; past that it would answer in words of its own. No id and no token of ours is as long. */
const LONGEST_piece = 100
const odd = new WeakMap<IncomingMessage, OddAddress>()

export class OddAddress extends Error {
  readonly statusCode: number
  constructor(statusCode: number, message: string) {
    super(message)
    this.statusCode = statusCode
  }
}

/** The address, or the top of the site where it is odd: the hook below then refuses it. */
export function readable(raw: IncomingMessage, url: string): string {
  const path = url.split('?', 1)[0] as string
  const fault =
    path.length > LONGEST_path
      ? { statusCode: 414, says: 'This address is longer than any here.' }
      : isDecodable(path)
        ? longPiece(path)
        : { statusCode: 400, says: 'This address cannot be read: a % in it does not stand for a letter.' }
  if (fault === null) return url
  // Under a build page's address everything wrong is answered alike.
  if (url.startsWith('/b/')) return '/b/'
  odd.set(raw, new OddAddress(fault.statusCode, fault.says))
  // What programs ask is answered as programs read it.
  return url.startsWith('/api/') ? '/api/' : '/'
}

export const oddAddresses = plugin(async (app) => {
  app.addHook('onRequest', async (request) => {
    const fault = odd.get(request.raw)
    if (fault) throw fault
  })
})

function longPiece(path: string): { readonly statusCode: number; readonly says: string } | null {
  const isLong = path.split('/').some((piece) => decodeURI(piece).length > LONGEST_piece)
  return isLong && !path.startsWith('/b/') ? { statusCode: 404, says: 'There is nothing at this address.' } : null
}

function isDecodable(path: string): boolean {
  try {
    decodeURIComponent(path)
    return true
  } catch {
    return false
  }
}
