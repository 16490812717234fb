/** What every way in shares: the page at the door, the second step, how often one may try, and what is carried along meanwhile. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { hasPasskey, type SignedIn, ticketHolder } from '../../records/entering.ts'
import { hasPasskeyFor, signInOptions } from '../../records/passkeys.ts'
import { folded, knownDeviceOf } from '../../records/people.ts'
import { noteSecurity } from '../../records/security-log.ts'
import type { Attempt } from '../../records/sign-in-limits.ts'
import { ourCookie } from '../../web/cookies.ts'
import type { FormReader } from '../../web/form.ts'
import { type Field, fieldsWorthKeeping } from '../../web/kept-forms.ts'
import { relyingParty } from '../../web/relying-party.ts'
import { DEVICE_COOKIE, localPath } from '../../web/session.ts'
import type { ShownFault } from '../shared/faults.ts'
import { takeIn } from '../shared/entered.ts'

/** Before the name of a field that is only carried along: the form at the door has a `name` of its own. */
const CARRIED = 'kept-'

/** What the page at the door offers besides a password; `pressed` is what the provider's button carries, so that no other site can press it. */
export type OtherWays = { readonly passkey: string; readonly provider: string; readonly pressed: string }
export type Door = OtherWays & {
  readonly faults: readonly ShownFault[]
  readonly next: string
  readonly name: string
  readonly kept: readonly Field[]
  readonly says: string
}
export type SecondStep = {
  readonly faults: readonly ShownFault[]
  readonly ticket: string
  readonly next: string
  readonly kept: readonly Field[]
  /** options for the browser's own call; empty where no passkey of this person works here */
  readonly passkey: string
  /** what can be shown now */
  readonly what: string
}

export async function otherWays(app: FastifyInstance, request: FastifyRequest): Promise<OtherWays> {
  const party = relyingParty(request)
  const challenge = app.challenges.make({ purpose: 'sign-in', visitor: request.formToken })
  return {
    passkey: party ? await signInOptions(app.db, { party, challenge }) : '',
    provider: app.config.provider?.name ?? '',
    pressed: Buffer.from(app.challenges.make({ purpose: 'provider', visitor: request.formToken })).toString('base64url'),
  }
}

/** The door once more, with what was typed. */
export async function again(
  app: FastifyInstance,
  reply: FastifyReply,
  given: { readonly form: FormReader; readonly faults: readonly ShownFault[]; readonly status: number },
): Promise<FastifyReply> {
  const { form, faults } = given
  const kept = carried(form)
  const door: Door = {
    ...(await otherWays(app, reply.request)),
    ...{ faults, next: localPath(form.typed('next')), name: form.typed('name').slice(0, 200), kept },
    says: kept.length > 0 ? 'What you typed is still kept here.' : '',
  }
  return reply.page('login/show', door, { title: 'Sign in', status: given.status, scripts: ['passkey'] })
}

/** In, and on to where one was going; or the second step. */
export async function goOn(
  app: FastifyInstance,
  reply: FastifyReply,
  given: { readonly signed: SignedIn; readonly next: string; readonly kept: readonly Field[] },
): Promise<FastifyReply> {
  const { signed, next, kept } = given
  if (signed.state === 'second-factor') return secondStep(app, reply, { faults: [], ticket: signed.ticket, next, kept, status: 200 })
  takeIn(reply, signed)
  const address = kept.length === 0 ? next : app.keptForms.address(next, { personId: signed.actor.personId, fields: kept })
  return reply.redirect(address, 303)
}

export async function secondStep(
  app: FastifyInstance,
  reply: FastifyReply,
  given: Omit<SecondStep, 'passkey' | 'what'> & { readonly status: number },
): Promise<FastifyReply> {
  const { request } = reply
  const { status, ...shown } = given
  const person = ticketHolder(app.db, app.clock, given.ticket)
  const party = relyingParty(request)
  const challenge = app.challenges.make({ purpose: 'second-step', visitor: request.formToken })
  const works = person !== null && party !== null && hasPasskeyFor(app.db, person.id, party)
  const view: SecondStep = {
    ...shown,
    passkey: works ? await signInOptions(app.db, { party, challenge, personId: person.id }) : '',
    what: whatFor({ hasCodes: person?.secondFactor != null, hasPasskey: person !== null && hasPasskey(app.db, person.id), works }),
  }
  return reply.page('login/second', view, { title: 'Second step', status, scripts: ['passkey'] })
}

/** Tries at a name, from an address or from a device that signed in there before. */
export function attemptAt(app: FastifyInstance, request: FastifyRequest, given: string): Attempt {
  const name = given.slice(0, 200)
  const device = ourCookie(request, DEVICE_COOKIE)
  return { account: folded(name), address: request.ip, device: device ? knownDeviceOf(app.db, device, name) : null }
}

/** Too many tries: how long to wait, the same for a name that nobody has. */
export async function heldBack(
  app: FastifyInstance,
  reply: FastifyReply,
  given: { readonly form: FormReader; readonly waits_s: number; readonly what: string },
): Promise<FastifyReply> {
  const { request } = reply
  noteSecurity(app.db, app.clock, { kind: 'sign-in-held-back', says: given.what, address: request.ip })
  reply.header('retry-after', String(given.waits_s))
  const says = `Too many tries. Wait ${Math.ceil(given.waits_s / 60)} minutes, or sign in on a device that you have used here before.`
  return again(app, reply, { form: given.form, faults: [{ field: 'name', label: 'Name', says, link: '' }], status: 429 })
}

export function carried(form: FormReader): readonly Field[] {
  const fields = Object.entries(form.body).filter(([name]) => name.startsWith(CARRIED))
  return fieldsWorthKeeping(Object.fromEntries(fields.map(([name, value]) => [name.slice(CARRIED.length), value]))) ?? []
}

function whatFor(given: { readonly hasCodes: boolean; readonly hasPasskey: boolean; readonly works: boolean }): string {
  const code = given.hasCodes
    ? 'Give the code that your device shows now, or one of your recovery codes.'
    : 'Give one of your recovery codes.'
  if (given.works) return `Use your passkey, or: ${code.replace(/^G/, 'g')}`
  return given.hasPasskey && !given.hasCodes
    ? `Your passkey does not work at this address: it needs https, and the host name that it was made for. ${code}`
    : code
}
