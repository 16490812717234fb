import type { TokenFacts, TokenScope } from '../../records/api-tokens.ts'
import { instantWords } from '../../web/format.ts'
import type { ShownFault } from '../shared/faults.ts'
import { type Option, option } from '../shared/options.ts'
import { SCOPES, type TokenForm } from './form.ts'

export type View = {
  readonly faults: readonly ShownFault[]
  /** what became of a press that came back here; empty: nothing */
  readonly done: string
  /** one just made; empty: none */
  readonly token: string
  readonly typed: { readonly name: string; readonly expiresOn: string }
  readonly scopes: readonly Option[]
  readonly tokens: readonly {
    readonly id: string
    readonly name: string
    readonly may: string
    readonly note: string
    readonly isOpen: boolean
  }[]
}

const MAY: Readonly<Record<TokenScope, string>> = { read: 'look at everything', write: 'look, and add to the records' }

export function view(given: {
  readonly tokens: readonly TokenFacts[]
  readonly form: TokenForm
  readonly faults: readonly ShownFault[]
  readonly done: string
  readonly token: string
  readonly timeZone: string
}): View {
  const { form, timeZone } = given
  const isKept = given.faults.length > 0
  return {
    faults: given.faults,
    done: given.done,
    token: given.token,
    typed: isKept ? { name: form.name, expiresOn: form.typedDay } : { name: '', expiresOn: '' },
    scopes: SCOPES.map((scope) => option(scope, MAY[scope], isKept ? form.scope : 'read')),
    tokens: [...given.tokens].reverse().map((token) => ({
      id: token.id,
      name: token.name,
      may: MAY[token.scope],
      note: noteOf(token, timeZone),
      isOpen: token.state === 'open',
    })),
  }
}

function noteOf(token: TokenFacts, timeZone: string): string {
  const used = token.lastUsedAt === null ? 'never used' : `last used ${instantWords(token.lastUsedAt, timeZone)}`
  const until = token.expiresAt === null ? '' : `good until ${token.expiresAt.slice(0, 10)}`
  return [token.state === 'open' ? '' : token.state, `made by ${token.person}`, used, until].filter((one) => one !== '').join(', ')
}
