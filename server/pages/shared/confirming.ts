/** Guesses at the password of who is signed in already: counted for that person alone, so that nobody else can use them up. */
import type { FastifyRequest } from 'fastify'
import type { Attempt } from '../../records/sign-in-limits.ts'

export function confirming(request: FastifyRequest): Attempt {
  return { account: '', address: '', device: `confirm ${request.actor.personId}` }
}
