/** What programs can ask for, below /api: every operation in one list, with its own way in and its own words for what went wrong. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { isDamage, isFull, isInUse } from '../records/damage.ts'
import { answerOnce } from '../records/once-keys.ts'
import { done } from '../records/refusals.ts'
import { retryAfter_s, told } from '../web/faults.ts'
import { OddAddress } from '../web/odd-addresses.ts'
import { bearerOnly, mayDo } from './bearer.ts'
import { takeJsonOnly } from './body.ts'
import { canonicalJson } from './canonical-json.ts'
import { apiDocument } from './description.ts'
import type { Operation } from './operation.ts'
import { operations } from './operations.ts'
import { PROBLEMS, Problem, type ProblemCode, problemBody, problemOf, readWith } from './problem.ts'

export async function api(app: FastifyInstance): Promise<void> {
  takeJsonOnly(app)
  bearerOnly(app)
  app.setErrorHandler(async (fault: Error & { statusCode?: number; code?: string }, request, reply) => {
    const problem = fault instanceof Problem ? fault : problemOfFault(fault)
    // What an owner has been told of already is no fault that came up here.
    if (PROBLEMS[problem.code].status >= 500 && problem !== fault) request.log.error(fault)
    return sendProblem(reply, problem)
  })
  app.setNotFoundHandler(async (_request, reply) => sendProblem(reply, new Problem('not-found', 'There is nothing at this address.')))
  app.get('/openapi.json', async (_request, reply) => sendJson(reply, 200, JSON.stringify(apiDocument())))
  for (const one of operations)
    app.route({ method: one.method, url: one.path, handler: async (request, reply) => answer(app, one, { request, reply }) })
}

async function answer(app: FastifyInstance, one: Operation, at: { readonly request: FastifyRequest; readonly reply: FastifyReply }) {
  const { request, reply } = at
  mayDo(app, request, one)
  const id = (request.params as { id?: string }).id ?? ''
  const query = one.query ? readWith(one.query, queryOf(request), 'The query') : noQuery(request)
  const body = one.body ? readWith(one.body, request.body, 'The body') : undefined
  const asked = { app, actor: request.actor, id, query, body, request, reply }
  const key = one.isOnce ? keyOf(request) : null
  if (key === null) {
    const value = await one.handle(asked)
    return reply.sent || value === reply ? reply : sendJson(reply, one.status, JSON.stringify(value))
  }
  const once = answerOnce(app.db, app.clock, request.actor, {
    key,
    // What makes two requests the same is ours to say (draft-ietf-httpapi-idempotency-key-header, 2.4): the address and the value of the body.
    request: `${one.method} ${request.url}\n${canonicalJson(request.body)}`,
    answer: () => done({ status: one.status, body: JSON.stringify(one.handle(asked)) }),
  })
  if (!once.ok) throw problemOf(once.refusals)
  if (once.value.state === 'other')
    throw new Problem('key-used', 'This Idempotency-Key came with another request before. Give each request a key of its own.')
  if (once.value.state === 'again') reply.header('idempotency-replayed', 'true')
  return sendJson(reply, once.value.answer.status, once.value.answer.body)
}

/** Numbers as numbers; what comes twice is refused rather than one of them taken. */
function queryOf(request: FastifyRequest): Record<string, unknown> {
  const given = Object.entries(request.query as Record<string, unknown>)
  const twice = given.find(([, value]) => Array.isArray(value))
  if (twice)
    throw new Problem('not-valid', `${twice[0].slice(0, 80)} came twice.`, {
      faults: [{ field: twice[0].slice(0, 80), says: 'This came twice.' }],
    })
  return Object.fromEntries(
    given.map(([name, value]) => [name, name === 'limit' && /^-?\d{1,9}$/.test(String(value)) ? Number(value) : value]),
  )
}

function noQuery(request: FastifyRequest): Record<string, never> {
  const faults = Object.keys(queryOf(request)).map((field) => ({ field, says: 'There is no such field.' }))
  if (faults.length > 0) throw new Problem('not-valid', 'Nothing is asked for in the query here.', { faults })
  return {}
}

function keyOf(request: FastifyRequest): string | null {
  const key = request.headers['idempotency-key']
  if (key === undefined) return null
  if (typeof key === 'string' && /^[\x21-\x7e]{1,255}$/.test(key)) return key
  throw new Problem('not-valid', 'An Idempotency-Key is 1 to 255 plain characters without spaces.')
}

/** Faults of the framework and of what stands before it, which know their status; those of disk and database; anything else is ours. */
export function problemOfFault(fault: Error & { readonly statusCode?: number; readonly code?: string }): Problem {
  const { sort, status, says } = told(fault, { isFull, isDamage, isInUse })
  if (sort === 'ours') return new Problem('not-our-day', says)
  if (sort !== 'refused') return new Problem(sort, says)
  if (fault instanceof OddAddress) return new Problem(ODD[status] ?? 'not-found', says)
  const [code, general] = OF_STATUS[status] ?? NOT_READ
  // The framework's own words, which have a code beside them, are meant for who programs it.
  return new Problem(code, fault.code === undefined ? says : general)
}

const ODD: Readonly<Record<number, ProblemCode>> = { 400: 'address-not-read', 414: 'address-too-long' }
type General = readonly [ProblemCode, string]
const NOT_READ: General = ['not-json', 'The request cannot be read.']
const OF_STATUS: Readonly<Record<number, General>> = {
  404: ['not-found', 'There is nothing at this address.'],
  405: ['no-such-method', 'GET, HEAD and POST are answered.'],
  413: ['too-large', 'At most 2 MB are taken at once.'],
  415: ['not-taken', 'Send JSON, and say so: Content-Type: application/json.'],
  503: ['nothing-written', 'Nothing is written at present.'],
}

export function sendProblem(reply: FastifyReply, problem: Problem): FastifyReply {
  const body = problemBody(problem)
  const after_s = retryAfter_s(body.status)
  if (after_s !== null) reply.header('retry-after', after_s)
  if (body.status === 401) reply.header('www-authenticate', 'Bearer realm="Loombook"')
  return reply
    .status(body.status)
    .header('cache-control', 'no-store')
    .type('application/problem+json; charset=utf-8')
    .serializer((one: unknown) => String(one))
    .send(JSON.stringify(body))
}

function sendJson(reply: FastifyReply, status: number, text: string): FastifyReply {
  return reply
    .status(status)
    .header('cache-control', 'no-store')
    .type('application/json; charset=utf-8')
    .serializer((one: unknown) => String(one))
    .send(text)
}
