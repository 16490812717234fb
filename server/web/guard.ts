/** Refuses writes that did not come from one of our own forms, and what a person's role does not reach. */
import { timingSafeEqual } from 'node:crypto'
import type { FastifyRequest } from 'fastify'
import plugin from 'fastify-plugin'
import { lostCookie } from './cookies.ts'
import { foreign, isSurelyOurs } from './foreign.ts'
import { fieldsWorthKeeping } from './kept-forms.ts'
import { isForPrograms, localPath } from './session.ts'

export class Forbidden extends Error {
  readonly statusCode = 403
}

export class ReadOnly extends Error {
  readonly statusCode = 503
}

/** Who may come to an address. Unless it says otherwise anybody signed in may look, and editors write. */
export type Needs = 'owner' | 'editor' | 'viewer'

declare module 'fastify' {
  interface FastifyContextConfig {
    needs?: Needs
    /** the password is asked for again where it was not given lately; then this page is shown */
    confirmAt?: string
    /** it may be done although nothing else is written */
    evenReadOnly?: boolean
  }
}

const REACH: Readonly<Record<Needs, number>> = { viewer: 1, editor: 2, owner: 3 }
type Options = {
  readonly refused: (request: FastifyRequest, reason: string) => void
  /** why nothing may be written at present */
  readonly readOnlyBecause: () => string | null
}

export const guard = plugin<Options>(async (app, options) => {
  app.addHook('preHandler', async (request, reply) => {
    if (isForPrograms(request)) return
    const reason = (isWrite(request) ? (foreign(request) ?? wrongToken(request)) : null) ?? beyondRole(request)
    if (reason !== null) {
      request.log.warn({ reason }, 'refused')
      options.refused(request, reason)
      // Signed out and in again on another tab: the form is shown anew with what was typed, and nothing of it is done.
      const kept = isWrite(request) ? typedIn(request) : null
      if (kept) return reply.redirect(app.keptForms.address(kept.at, { personId: request.actor.personId, fields: kept.fields }), 303)
      throw new Forbidden(reason)
    }
    const isShut = isWrite(request) && request.routeOptions.config.evenReadOnly !== true ? options.readOnlyBecause() : null
    if (isShut !== null) throw new ReadOnly(isShut)
    const { confirmAt } = request.routeOptions.config
    if (confirmAt !== undefined && !request.isConfirmed) return reply.redirect(`/confirm?next=${encodeURIComponent(confirmAt)}`, 303)
  })
})

function isWrite(request: FastifyRequest): boolean {
  return request.method !== 'GET' && request.method !== 'HEAD' && request.method !== 'OPTIONS'
}

/** Why a person's role does not reach an address; null where it does, and for who is signed out. */
export function beyondRole(request: FastifyRequest): string | null {
  if (!request.signedIn) return null
  const needs = request.routeOptions.config.needs ?? (isWrite(request) ? 'editor' : 'viewer')
  const { role } = request.actor
  if (role !== undefined && REACH[role] >= REACH[needs]) return null
  return needs === 'owner' ? 'Only an owner of this household may do that.' : 'You may look at everything here, and change nothing.'
}

/** What was typed in a form of ours whose token is old, and where it is shown again. */
function typedIn(request: FastifyRequest) {
  const at = localPath((request.body as Record<string, unknown> | null | undefined)?._at)
  if (!request.signedIn || at === '/' || !isSurelyOurs(request) || request.headers['hx-request'] || beyondRole(request) !== null)
    return null
  const fields = fieldsWorthKeeping(request.body)
  return fields && { at, fields }
}

function wrongToken(request: FastifyRequest): string | null {
  const body = request.body as Record<string, unknown> | null | undefined
  if (hasToken(request, body?._token)) return null
  return request.cameWithoutCookie ? lostCookie(request) : 'The form’s token is missing or old. Go back, reload the page and try again.'
}

/** The token as a field of the form, or as a header that only a script of this site can set. */
export function hasToken(request: FastifyRequest, field: unknown): boolean {
  const token = request.headers['x-form-token'] ?? field
  const given = Buffer.from(typeof token === 'string' ? token : '')
  const right = Buffer.from(request.formToken)
  return given.length === right.length && timingSafeEqual(given, right)
}
