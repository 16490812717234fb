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

/** Why a request is not from one of our own pages; null where nothing says so. */
export function foreign(request: FastifyRequest): string | null {
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
  const token = body?._token
  const given = Buffer.from(typeof token === 'string' ? token : '')
  const right = Buffer.from(request.formToken)
  return given.length === right.length && timingSafeEqual(given, right)
    ? null
    : 'The form’s token is missing or old. Go back, reload the page and try again.'
}
