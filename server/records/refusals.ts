/** One catalogue of what records refuse, with the status a web page answers. */
import type { Refusal, Result } from './contract.ts'

const statuses = {
  'not-found': 404,
  'not-valid': 422,
  'wrong-name-or-password': 401,
  'too-large': 413,
  'kind-not-taken': 415,
  'not-a-picture': 422,
  'too-little-memory': 413,
  'changed-meanwhile': 409,
  'wrong-code': 422,
  'passkey-not-right': 422,
  'identity-not-known': 403,
  'identity-taken': 409,
  'sign-in-over': 401,
  'name-taken': 409,
  'last-owner': 409,
  'archive-not-taken': 422,
  'already-set-up': 409,
  'does-not-apply': 409,
  'later-entry-depends': 409,
  'already-corrected': 409,
  'date-in-future': 422,
  'part-not-known': 422,
  'chain-not-valid': 422,
  'rest-too-small': 422,
} as const

export type RefusalCode = keyof typeof statuses

export function refusal(code: RefusalCode, sentence: string, more: { readonly field?: string; readonly entryId?: string } = {}): Refusal {
  return { code, status: statuses[code], sentence, ...more }
}

export function refused(refusals: readonly Refusal[]): { readonly ok: false; readonly refusals: readonly Refusal[] } {
  return { ok: false, refusals }
}

export function done<T>(value: T): Result<T> {
  return { ok: true, value }
}
