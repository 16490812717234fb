import type { Role } from '../../records/contract.ts'
import type { PersonFacts } from '../../records/people.ts'
import type { ShownFault } from '../shared/faults.ts'
import { type Option, option } from '../shared/options.ts'

export const ROLES = ['owner', 'editor', 'viewer'] as const satisfies readonly Role[]
const WORDS: Readonly<Record<Role, string>> = {
  owner: 'owner: everything, people and settings too',
  editor: 'editor: logs and changes records',
  viewer: 'viewer: looks, changes nothing',
}

export type View = {
  readonly faults: readonly ShownFault[]
  /** what became of a press that came back here; empty: nothing */
  readonly done: string
  /** the address of an invitation just made; empty: none */
  readonly link: string
  /** the provider where a verified address finds its person by itself, so that one can be set; empty: none */
  readonly provider: string
  readonly people: readonly {
    readonly id: string
    readonly name: string
    readonly role: Role
    readonly note: string
    readonly isSelf: boolean
    readonly isDisabled: boolean
    readonly email: string
    readonly roles: readonly Option[]
  }[]
  readonly invitations: readonly { readonly id: string; readonly role: Role; readonly until: string }[]
  readonly roles: readonly Option[]
}

export function view(given: {
  readonly people: readonly PersonFacts[]
  readonly invitations: readonly { readonly id: string; readonly role: Role; readonly expiresAt: string }[]
  readonly self: string
  readonly provider: { readonly name: string; readonly linksByEmail: boolean } | null
  readonly faults: readonly ShownFault[]
  readonly done: string
  readonly link: string
}): View {
  return {
    faults: given.faults,
    done: given.done,
    link: given.link,
    provider: given.provider?.linksByEmail === true ? given.provider.name : '',
    people: given.people.map((person) => ({
      id: person.id,
      name: person.name,
      role: person.role,
      note: [
        person.id === given.self ? 'you' : '',
        person.isDisabled ? 'may not come in' : '',
        person.hasSecondFactor ? 'second factor' : 'password alone',
      ]
        .filter((one) => one !== '')
        .join(', '),
      isSelf: person.id === given.self,
      isDisabled: person.isDisabled,
      email: person.email,
      roles: ROLES.map((role) => option(role, WORDS[role], person.role)),
    })),
    invitations: given.invitations.map(({ id, role, expiresAt }) => ({ id, role, until: expiresAt.slice(0, 10) })),
    roles: ROLES.map((role) => option(role, WORDS[role], 'viewer')),
  }
}
