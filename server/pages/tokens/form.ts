/** What is typed to make a token. */
import type { TokenScope } from '../../records/api-tokens.ts'
import { type FormFault, FormReader } from '../../web/form.ts'

export const SCOPES = ['read', 'write'] as const satisfies readonly TokenScope[]
/** Later than any token lasts: how late it may be is for the records to say. */
const LATEST = '9999-12-31'

export type TokenForm = {
  readonly name: string
  readonly scope: TokenScope
  readonly expiresOn: string | null
  readonly typedDay: string
  readonly faults: readonly FormFault[]
}

export function tokenForm(body: unknown): TokenForm {
  const form = new FormReader(body)
  const typedDay = form.typed('expiresOn').trim()
  const expiresOn = typedDay === '' ? null : form.date('expiresOn', { latest: LATEST })
  return { name: form.text('name', { max: 80 }), scope: form.choice('scope', SCOPES, 'read'), expiresOn, typedDay, faults: form.faults }
}

export function label(field: string): string {
  return { name: 'What it is for', scope: 'It may', expiresOn: 'Good until' }[field] ?? field
}
