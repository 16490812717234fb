/** The second step: a code, a recovery code, or a passkey. Who knows the password and guesses codes is held back by person. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { ticketHolder } from '../../records/entering.ts'
import type { Result } from '../../records/contract.ts'
import type { SignedIn } from '../../records/entering.ts'
import { signInWithPasskeyToo } from '../../records/passkeys.ts'
import { knownDeviceOf, signInWithCode } from '../../records/people.ts'
import type { Attempt } from '../../records/sign-in-limits.ts'
import { ourCookie } from '../../web/cookies.ts'
import { FormReader } from '../../web/form.ts'
import { relyingParty } from '../../web/relying-party.ts'
import { cameFrom, DEVICE_COOKIE, localPath } from '../../web/session.ts'
import { refusalFaults } from '../shared/faults.ts'
import { again, carried, goOn, heldBack, secondStep } from './door.ts'

const OPEN = { config: { evenReadOnly: true } } as const

export function register(app: FastifyInstance): void {
  /** Counts the try before it is looked at; a right one takes it back. */
  const step = async (
    request: FastifyRequest,
    reply: FastifyReply,
    way: (given: { readonly form: FormReader; readonly ticket: string }) => Promise<Result<SignedIn>>,
  ) => {
    const form = new FormReader(request.body)
    const ticket = form.typed('ticket').slice(0, 100)
    const attempt = attemptWith(app, request, ticket)
    const waits_s = attempt === null ? 0 : app.signInLimits.begin_s(attempt)
    if (waits_s > 0) return heldBack(app, reply, { form, waits_s, what: 'Second step' })
    const signed = await way({ form, ticket })
    const [next, kept] = [localPath(form.typed('next')), carried(form)]
    if (signed.ok) {
      if (attempt !== null) app.signInLimits.succeeded(attempt)
      return goOn(app, reply, { signed: signed.value, next, kept })
    }
    const faults = refusalFaults(signed.refusals)
    if (signed.refusals[0]?.code === 'sign-in-over') return again(app, reply, { form, faults, status: 401 })
    return secondStep(app, reply, { faults, ticket, next, kept, status: 422 })
  }

  app.post('/sessions/second-factor', OPEN, async (request, reply) =>
    step(request, reply, async ({ form, ticket }) =>
      signInWithCode(app.db, app.clock, { ticket, code: form.typed('code').slice(0, 40), from: cameFrom(request) }),
    ),
  )

  app.post('/sessions/second-factor/passkey', OPEN, async (request, reply) =>
    step(request, reply, async ({ form, ticket }) =>
      signInWithPasskeyToo(app.db, app.clock, {
        ...{ ticket, answer: form.typed('answer'), from: cameFrom(request) },
        party: relyingParty(request) ?? { id: '', origin: '' },
        takes: (challenge) => app.challenges.take(challenge, { purpose: 'second-step', visitor: request.formToken }),
      }),
    ),
  )
}

/** Null for a ticket of nobody: that is refused anyway. */
function attemptWith(app: FastifyInstance, request: FastifyRequest, ticket: string): Attempt | null {
  const person = ticketHolder(app.db, app.clock, ticket)
  if (person === null) return null
  const cookie = ourCookie(request, DEVICE_COOKIE)
  const device = cookie ? knownDeviceOf(app.db, cookie, person.name) : null
  return { account: `second step ${person.id}`, address: request.ip, device: device && `second step ${device}` }
}
