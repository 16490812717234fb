/** A form sent again, by a second press or a second try, is answered as it was the first time and makes no second record. */
import { createHash } from 'node:crypto'
import type { FastifyInstance, FastifyRequest } from 'fastify'
import type { Result, SavedEntry } from '../../records/contract.ts'
import { newId } from '../../records/ids.ts'
import { savedOnce } from '../../records/journal.ts'
import { answerOnce } from '../../records/once-keys.ts'
import { done } from '../../records/refusals.ts'
import type { FormReader } from '../../web/form.ts'

const UUID7 = /^([0-9a-f]{8}-[0-9a-f]{4})-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/
const A_DAY_ms = 86_400_000

/** For a form's hidden field `once`: what was sent with it before, or a new one. */
export function onceOf(app: FastifyInstance, form: FormReader): string {
  return form.typed('once') || newId(app.clock)
}

/**
 * The key under which a form's entry is stored: of its `once` and of all that was typed, so that the page gone back to, changed and
 * sent again is a new entry and not lost.
 */
export function onceKeyOf(form: FormReader): { readonly onceKey?: string } {
  const once = form.typed('once')
  return once === '' ? {} : { onceKey: `${once.slice(0, 40)} ${digestOf(form, '')}` }
}

/** The entry that this very form made before, if it did. Asked first: what it needed may be gone from the vehicle since. */
export function entrySavedBy(app: FastifyInstance, request: FastifyRequest, form: FormReader): SavedEntry | null {
  return savedOnce(app.db, request.actor, onceKeyOf(form).onceKey)
}

/** The id of the record that a form makes: the same for the same form, another for any other, and of this household alone. */
export function onceId(app: FastifyInstance, request: FastifyRequest, form: FormReader): { readonly id?: string } {
  const [, time] = UUID7.exec(form.typed('once')) ?? []
  if (time === undefined || Number.parseInt(time.replace('-', ''), 16) > app.clock.now().getTime() + A_DAY_ms) return {}
  const hash = digestOf(form, `${request.actor.householdId} ${form.typed('once')}`)
  const hex = Buffer.from(hash, 'base64url').toString('hex')
  return { id: `${time}-7${hex.slice(0, 3)}-8${hex.slice(3, 6)}-${hex.slice(6, 18)}` }
}

/**
 * For what is neither an entry nor has an id to be given: carried out the first time, and answered as done each time the same form comes again,
 * whatever has become of the record since. A form without a `once` is carried out as it comes.
 */
export function doneOnce<T>(app: FastifyInstance, request: FastifyRequest, form: FormReader, work: () => Result<T>): Result<unknown> {
  const { onceKey } = onceKeyOf(form)
  if (onceKey === undefined) return work()
  const answer = () => {
    const first = work()
    return first.ok ? done({ status: 303, body: '' }) : first
  }
  return answerOnce(app.db, app.clock, request.actor, { key: `form ${request.url} ${onceKey}`, request: onceKey, answer })
}

function digestOf(form: FormReader, more: string): string {
  const typed = Object.entries(form.body)
    .filter(([name]) => name !== '_token')
    .sort(([a], [b]) => (a < b ? -1 : 1))
  return createHash('sha256')
    .update(JSON.stringify([more, typed]))
    .digest('base64url')
}
