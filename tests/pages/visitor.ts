/** A browser of one's own, asked without a network: it keeps its cookies, by scheme and host as a browser does. */
import type { FastifyInstance } from 'fastify'
import { PASSWORD, tokenIn } from './book.ts'

type Headers = Readonly<Record<string, string>>

export function visitor(app: FastifyInstance, given: { readonly address?: string; readonly headers?: Headers } = {}) {
  const cookies = new Map<string, string>()
  const remoteAddress = given.address ?? '127.0.0.1'
  const sent = (more: Headers = {}) => ({
    cookie: [...cookies].map(([name, value]) => `${name}=${value}`).join('; '),
    ...given.headers,
    ...more,
  })
  const keep = (reply: { headers: Record<string, unknown> }) => {
    for (const line of [reply.headers['set-cookie'] ?? []].flat() as string[]) {
      const [, name = '', value = ''] = /^([^=]+)=([^;]*)/.exec(line) ?? []
      if (value === '') cookies.delete(name)
      else cookies.set(name, value)
    }
  }
  const get = async (url: string, headers: Headers = {}) => {
    const reply = await app.inject({ url, headers: sent(headers), remoteAddress })
    keep(reply)
    return reply
  }
  /** `from` is the page whose form it is. */
  const post = async (url: string, fields: Headers, more: { readonly from?: string; readonly headers?: Headers } = {}) => {
    const token = tokenIn((await get(more.from ?? '/login')).body) || tokenIn((await get('/')).body)
    const reply = await app.inject({
      method: 'POST',
      url,
      headers: sent({ 'content-type': 'application/x-www-form-urlencoded', ...more.headers }),
      payload: new URLSearchParams({ _token: token, ...fields }).toString(),
      remoteAddress,
    })
    keep(reply)
    return reply
  }
  const signIn = (name = 'Owner', password = PASSWORD) => post('/sessions', { name, password })
  return { get, post, signIn, cookies }
}
