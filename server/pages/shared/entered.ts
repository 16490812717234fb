/** After any way in: the session's cookie, and the one by which this device is known again. */
import type { FastifyReply } from 'fastify'
import type { SignedIn } from '../../records/entering.ts'
import { setOurCookie } from '../../web/cookies.ts'
import { DEVICE_COOKIE, SESSION_COOKIE } from '../../web/session.ts'

const SESSION_s = 90 * 86_400
/** Longer than any browser keeps one. */
const DEVICE_s = 400 * 86_400

export function takeIn(reply: FastifyReply, signed: SignedIn & { readonly state: 'in' }): void {
  setOurCookie(reply, SESSION_COOKIE, signed.token, { maxAge_s: SESSION_s })
  setOurCookie(reply, DEVICE_COOKIE, signed.deviceToken, { maxAge_s: DEVICE_s })
}
