/** Refuses writes that did not come from one of our own forms. */
import { timingSafeEqual } from 'node:crypto'
import type { FastifyRequest } from 'fastify'
import plugin from 'fastify-plugin'

export class Forbidden extends Error {
  readonly statusCode = 403
}

export const guard = plugin(async (app) => {
  app.addHook('preHandler', async (request) => {
    if (request.method === 'GET' || request.method === 'HEAD' || request.method === 'OPTIONS') return
    const reason = foreign(request) ?? wrongToken(request)
    if (reason === null) return
    request.log.warn({ reason }, 'write refused')
    throw new Forbidden(reason)
  })
})

function foreign(request: FastifyRequest): string | null {
  const { origin, host } = request.headers
  if (request.headers['sec-fetch-site'] === 'cross-site') return 'The request came from another site.'
  if (origin === undefined) return null
  try {
    return new URL(origin).host === host ? null : 'The request came from another site.'
  } catch {
    return 'The request does not say where it came from.'
  }
}

function wrongToken(request: FastifyRequest): string | null {
  const body = request.body as Record<string, unknown> | null | undefined
  return hasToken(request, body?._token) ? null : 'The form’s token is missing or old. Go back, reload the page and try again.'
}

/** The token as a field of the form, or as a header that only a script of this site can set. */
export function hasToken(request: FastifyRequest, field: unknown): boolean {
  const token = request.headers['x-form-token'] ?? field
  const given = Buffer.from(typeof token === 'string' ? token : '')
  const right = Buffer.from(request.formToken)
  return given.length === right.length && timingSafeEqual(given, right)
}
