/** Guesses at the password of who is signed in already: counted for that person alone, so that nobody else can use them up. */
import type { FastifyInstance, FastifyRequest } from 'fastify'
import { noteSecurity } from '../../records/security-log.ts'
import type { Attempt } from '../../records/sign-in-limits.ts'

export function confirming(request: FastifyRequest): Attempt {
  return { account: '', address: '', device: `confirm ${request.actor.personId}` }
}

export function noteRefused(app: FastifyInstance, request: FastifyRequest): void {
  const { householdId, personId, name } = request.actor
  noteSecurity(app.db, app.clock, { kind: 'password-refused', says: name, address: request.ip, householdId, personId })
}
