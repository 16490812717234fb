/** After any way in: the session's cookie, and the one by which this device is known again. */
import type { FastifyReply } from 'fastify'
import { DEVICE_KNOWN_days, type SignedIn } from '../../records/entering.ts'
import { LASTS_days } from '../../records/sessions.ts'
import { setOurCookie } from '../../web/cookies.ts'
import { DEVICE_COOKIE, SESSION_COOKIE } from '../../web/session.ts'

const DAY_s = 86_400

export function takeIn(reply: FastifyReply, signed: SignedIn & { readonly state: 'in' }): void {
  setOurCookie(reply, SESSION_COOKIE, signed.token, { maxAge_s: LASTS_days * DAY_s })
  setOurCookie(reply, DEVICE_COOKIE, signed.deviceToken, { maxAge_s: DEVICE_KNOWN_days * DAY_s })
}
