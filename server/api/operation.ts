/** One thing that programs can ask for: what it is called, what it takes, what it answers, and how. Routes and their description come from it. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import type { z } from 'zod'
import type { Actor } from '../records/contract.ts'

export type Asked<Query, Body> = {
  readonly app: FastifyInstance
  readonly actor: Actor
  /** the id in the address */
  readonly id: string
  readonly query: Query
  readonly body: Body
  readonly request: FastifyRequest
  readonly reply: FastifyReply
}

export type Operation<Query = unknown, Body = unknown> = {
  readonly id: string
  readonly method: 'GET' | 'POST'
  /** below /api, with `:id` */
  readonly path: string
  readonly summary: string
  readonly about?: string
  /** a token that only reads is refused */
  readonly writes: boolean
  readonly query?: z.ZodType<Query>
  readonly body?: z.ZodType<Body>
  /** what describes the body, where something else than a schema reads it */
  readonly bodyAsDescribed?: z.ZodType
  /** an example of the body, or of an address with its query */
  readonly example: unknown
  /** its answer is given again to the same Idempotency-Key */
  readonly isOnce?: boolean
  /** the records may refuse it because of what is recorded already */
  readonly mayClash?: boolean
  /** a file is made on the disk to answer it */
  readonly makesFile?: boolean
  readonly status: 200 | 201
  /** the answer's schema, or the kinds of file it sends */
  readonly answer: z.ZodType | readonly string[]
  readonly handle: (asked: Asked<Query, Body>) => unknown
}

export function operation<Query, Body>(given: Operation<Query, Body>): Operation {
  return given as unknown as Operation
}
