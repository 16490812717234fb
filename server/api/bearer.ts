/** Who asks: a token in the Authorization header and nothing else. No cookie counts here, so no form's token is needed either. */
import type { FastifyInstance, FastifyRequest } from 'fastify'
import { actorOfToken } from '../records/api-tokens.ts'
import type { Actor } from '../records/contract.ts'
import { noteBeside } from '../records/damage.ts'
import { readOnlyBecause } from '../records/sanity.ts'
import { noteSecurity } from '../records/security-log.ts'
import type { Operation } from './operation.ts'
import { Problem } from './problem.ts'

const NAMES = ['token', 'access_token', 'api_token', 'api_key', 'apikey', 'bearer', 'authorization', 'auth']
const LIKE_A_TOKEN = /^[\w-]{43}$/

export function bearerOnly(app: FastifyInstance): void {
  app.addHook('onRequest', async (request) => {
    refuseTokenInAddress(request)
    request.actor = actorFrom(app, request)
  })
  // A body may be long on its way, and the token be revoked meanwhile.
  app.addHook('preHandler', async (request) => {
    if (request.method === 'POST') request.actor = actorFrom(app, request)
  })
}

/** A token that only reads is refused here, and the owner can read that it was. */
export function mayDo(app: FastifyInstance, request: FastifyRequest, operation: Operation): void {
  const { actor } = request
  if (!operation.writes) return
  if (actor.role === 'editor') {
    const because = readOnlyBecause(app.db)
    if (because !== null) throw new Problem('nothing-written', because)
    return
  }
  const { householdId, personId } = actor
  note(app, request, { kind: 'write-refused', because: 'a token that only reads', householdId, personId })
  throw new Problem('token-reads-only', 'This token may look at everything, and change nothing.')
}

function actorFrom(app: FastifyInstance, request: FastifyRequest): Actor {
  const given = /^Bearer +([^\s]+) *$/i.exec(request.headers.authorization ?? '')?.[1]
  if (given === undefined) throw new Problem('no-token', 'Send a token: Authorization: Bearer, then the token.')
  const actor = actorOfToken(app.db, app.clock, given)
  if (!actor) {
    note(app, request, { kind: 'token-refused', because: 'not known, or no longer good' })
    throw new Problem('no-token', 'This token is not known, or no longer good.')
  }
  return actor
}

type Refusing = {
  readonly kind: 'write-refused' | 'token-refused'
  readonly because: string
  readonly householdId?: string
  readonly personId?: string
}

/** Who is refused is told so even where that cannot be noted: while another program holds the records, or the disk is full. */
function note(app: FastifyInstance, request: FastifyRequest, { because, ...event }: Refusing): void {
  const says = `${request.method} ${request.url.split('?')[0]?.slice(0, 120)}: ${because}`
  const isNoted = noteBeside(() => noteSecurity(app.db, app.clock, { ...event, says, address: request.ip }))
  if (!isNoted) request.log.warn({ kind: event.kind }, 'refused, and not noted: the records take no write')
}

/** Addresses end up in logs and histories; what was sent there should be revoked. */
function refuseTokenInAddress(request: FastifyRequest): void {
  for (const [name, value] of Object.entries(request.query as Record<string, unknown>))
    if (NAMES.includes(name.toLowerCase()) || [value].flat().some((one) => typeof one === 'string' && LIKE_A_TOKEN.test(one)))
      throw new Problem('token-in-address', 'A token belongs in the Authorization header alone. Revoke the one that was sent like this.')
}
