/**
 * Under a folder of a site (/garage) as at its top: requests lose the folder before anything looks at them, and answers get it back here,
 * in every place where an address of our own can stand. Pages and records know nothing of it.
 */
import type { IncomingMessage } from 'node:http'
import type { FastifyReply, FastifyRequest } from 'fastify'
import plugin from 'fastify-plugin'

type Options = { readonly basePath: string }
/** What asks without a proxy in between, such as a container's own health check, need not know the folder. */
const ALSO_AT_TOP = /^\/(healthz|readyz)(\?|$)/
/** Quotes in what people wrote are escaped, so only an attribute of a template reads like this. */
const ATTRIBUTE =
  /(\s(?:href|src|action|formaction|poster|data-(?:draft|post|href|src|url)|hx-(?:get|post|put|patch|delete|push-url|replace-url))=")(\/(?!\/)[^"]*)/g
/** Members of answers to programs that hold an address of ours. Inside a text their quotes would be escaped. */
const MEMBER = /("(?:next|type|original|picture)":")(\/api[/-])/g
/** So of what our own script asks for: the log form shows a photo by the address that the answer names. */
const MEMBER_FOR_SCRIPTS = /("thumbnail":")(\/photos\/)/g
const HEADERS = ['location', 'hx-redirect', 'hx-location', 'hx-push-url', 'hx-replace-url'] as const
const outside = new WeakSet<IncomingMessage>()

/** The address as the application knows it. */
export function withoutBase(raw: IncomingMessage, basePath: string): string {
  const url = withoutSite(raw.url ?? '/')
  if (basePath === '') return url
  if (url.startsWith(`${basePath}/`)) return url.slice(basePath.length)
  if (url === basePath || url.startsWith(`${basePath}?`)) return `/${url.slice(basePath.length)}`
  if (!ALSO_AT_TOP.test(url)) outside.add(raw)
  return url
}

/** RFC 9112, 3.2.2: a request may name the whole address. Which site it is, Host says here as always. */
function withoutSite(url: string): string {
  return url.replace(/^https?:\/\/[^/?#]*\/?/i, '/')
}

export const basePaths = plugin<Options>(async (app, { basePath }) => {
  if (basePath === '') return
  app.addHook('onRequest', async (request, reply) => {
    if (!outside.has(request.raw)) return
    if (request.raw.url === '/') return reply.redirect(`${basePath}/`, 302)
    return reply.status(404).type('text/plain; charset=utf-8').send(`There is nothing at this address. Loombook is at ${basePath}/\n`)
  })
  app.addHook('onSend', async (request, reply, payload) => {
    if (outside.has(request.raw)) return payload
    for (const name of HEADERS) {
      const value = reply.getHeader(name)
      if (typeof value === 'string' && isOwn(value)) reply.header(name, basePath + value)
    }
    withCookies(reply, basePath)
    if (typeof payload === 'string') return withBase(payload, { request, reply, basePath })
    // A page that was kept comes as bytes.
    const isPage = Buffer.isBuffer(payload) && String(reply.getHeader('content-type')).startsWith('text/html')
    return isPage ? withBase(payload.toString(), { request, reply, basePath }) : payload
  })
})

function withBase(text: string, at: { readonly request: FastifyRequest; readonly reply: FastifyReply; readonly basePath: string }): string {
  const { basePath } = at
  const type = String(at.reply.getHeader('content-type') ?? '')
  if (isPage(at.reply)) return text.replace(ATTRIBUTE, `$1${basePath}$2`)
  if (!type.includes('json')) return text
  if (!/^\/api[/-]/.test(at.request.url)) return text.replace(MEMBER_FOR_SCRIPTS, `$1${basePath}$2`)
  return text.replace(MEMBER, `$1${basePath}$2`).replace('"servers":[{"url":"/"}]', `"servers":[{"url":${JSON.stringify(basePath)}}]`)
}

/** A page, or a drawing with links in it. */
function isPage(reply: FastifyReply): boolean {
  return /^(text\/html|image\/svg)/.test(String(reply.getHeader('content-type') ?? ''))
}

/** Cookies of another installation under the same name stay apart. */
function withCookies(reply: FastifyReply, basePath: string): void {
  const given = reply.getHeader('set-cookie')
  if (given === undefined) return
  const all = (Array.isArray(given) ? given : [String(given)]).map((one) => one.replace(/; Path=\/(?=;|$)/i, `; Path=${basePath}/`))
  reply.removeHeader('set-cookie')
  reply.header('set-cookie', all)
}

function isOwn(address: string): boolean {
  return address.startsWith('/') && !address.startsWith('//')
}
