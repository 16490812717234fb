/** Addresses that nothing here could have made, answered with a page like any other instead of the framework's own words. */
import type { IncomingMessage } from 'node:http'
import plugin from 'fastify-plugin'

/** Ours have at most some 300 characters before the question mark; what is searched for may be longer. */
const LONGEST_path = 2048
const odd = new WeakMap<IncomingMessage, Error & { statusCode: number }>()

/** The address, or the top of the site where it is odd: the hook below then refuses it. */
export function readable(raw: IncomingMessage, url: string): string {
  const path = url.split('?', 1)[0] as string
  const fault =
    path.length > LONGEST_path
      ? { statusCode: 414, says: 'This address is longer than any here.' }
      : isDecodable(path)
        ? null
        : { statusCode: 400, says: 'This address cannot be read: a % in it does not stand for a letter.' }
  if (fault === null) return url
  // Under a build page's address everything wrong is answered alike.
  if (url.startsWith('/b/')) return '/b/'
  odd.set(raw, Object.assign(new Error(fault.says), { statusCode: fault.statusCode }))
  return '/'
}

export const oddAddresses = plugin(async (app) => {
  app.addHook('onRequest', async (request) => {
    const fault = odd.get(request.raw)
    if (fault) throw fault
  })
})

function isDecodable(path: string): boolean {
  try {
    decodeURIComponent(path)
    return true
  } catch {
    return false
  }
}
