/** Refuses writes that did not come from one of our own forms. */
import { timingSafeEqual } from 'node:crypto'
import type { FastifyRequest } from 'fastify'
import plugin from 'fastify-plugin'
import { foreign, isSurelyOurs } from './foreign.ts'
import { fieldsWorthKeeping } from './kept-forms.ts'
import { localPath } from './session.ts'

export class Forbidden extends Error {
  readonly statusCode = 403
}

export const guard = plugin(async (app) => {
  app.addHook('preHandler', async (request, reply) => {
    if (request.method === 'GET' || request.method === 'HEAD' || request.method === 'OPTIONS') return
    const reason = foreign(request) ?? wrongToken(request)
    if (reason === null) return
    request.log.warn({ reason }, 'write refused')
    // Signed out and in again on another tab: the form is shown anew with what was typed, and nothing of it is done.
    const at = localPath((request.body as Record<string, unknown> | null | undefined)?._at)
    const kept =
      request.signedIn && at !== '/' && isSurelyOurs(request) && !request.headers['hx-request'] ? fieldsWorthKeeping(request.body) : null
    if (kept) return reply.redirect(app.keptForms.address(at, { personId: request.actor.personId, fields: kept }), 303)
    throw new Forbidden(reason)
  })
})

function wrongToken(request: FastifyRequest): string | null {
  const body = request.body as Record<string, unknown> | null | undefined
  const token = body?._token
  const given = Buffer.from(typeof token === 'string' ? token : '')
  const right = Buffer.from(request.formToken)
  return given.length === right.length && timingSafeEqual(given, right)
    ? null
    : 'The form’s token is missing or old. Go back, reload the page and try again.'
}
