import type { IdentityFacts } from '../../records/identities.ts'
import type { PasskeyFacts } from '../../records/passkeys.ts'
import type { SessionFacts } from '../../records/sessions.ts'
import type { ShownFault } from '../shared/faults.ts'
import { qrOf } from '../shared/qr.ts'

export type View = {
  readonly faults: readonly ShownFault[]
  readonly done: string
  readonly hasCodes: boolean
  readonly secondFactor: string
  readonly passkeys: readonly { readonly id: string; readonly name: string; readonly when: string }[]
  /** what the provider is called; empty where nobody signs in by one */
  readonly provider: string
  /** what its button carries */
  readonly pressed: string
  readonly identities: readonly { readonly id: string; readonly label: string; readonly when: string }[]
  /** of the address that finds the person by itself; empty where none does */
  readonly email: string
  /** why no passkey can be made here; empty where one can */
  readonly noPasskeys: string
  readonly sessions: readonly { readonly id: string; readonly where: string; readonly when: string; readonly isThis: boolean }[]
}

export function view(given: {
  readonly hasSecondFactor: boolean
  readonly hasCodes: boolean
  readonly passkeys: readonly PasskeyFacts[]
  /** the host name that passkeys are made for here */
  readonly party: string | null
  readonly codesLeft: number
  readonly provider: { readonly name: string; readonly linksByEmail: boolean } | null
  readonly pressed: string
  readonly identities: readonly IdentityFacts[]
  readonly email: string
  readonly sessions: readonly SessionFacts[]
  readonly timeZone: string
  readonly faults: readonly ShownFault[]
  readonly done: string
}): View {
  const when = new Intl.DateTimeFormat('en-GB', { dateStyle: 'medium', timeStyle: 'short', timeZone: given.timeZone })
  return {
    faults: given.faults,
    done: given.done,
    hasCodes: given.hasCodes,
    secondFactor: given.hasSecondFactor
      ? `On: after the password, signing in asks for ${[given.hasCodes ? 'a code of the moment' : '', given.passkeys.length > 0 ? 'a passkey' : ''].filter((one) => one !== '').join(' or ')}. ${given.codesLeft} recovery code${given.codesLeft === 1 ? '' : 's'} left.`
      : 'Off: the password alone lets you in. With a second factor, a device of yours shows a code that changes every half minute, or holds a passkey.',
    passkeys: given.passkeys.map((one) => ({
      id: one.id,
      name: one.name,
      when: `for ${one.relyingParty}, made ${when.format(new Date(one.recordedAt))}, ${one.lastUsedAt === null ? 'not used yet' : `last used ${when.format(new Date(one.lastUsedAt))}`}`,
    })),
    provider: given.provider?.name ?? '',
    pressed: given.pressed,
    identities: given.identities.map((one) => ({
      id: one.id,
      label: one.label,
      when: `${new URL(one.issuer).host}, ${one.lastUsedAt === null ? 'not used yet' : `last used ${when.format(new Date(one.lastUsedAt))}`}`,
    })),
    email: given.provider?.linksByEmail === true ? emailWords(given.email) : '',
    noPasskeys:
      given.party === null
        ? 'Browsers make passkeys only where the address is a host name by https, or localhost. Here, use codes of the moment.'
        : '',
    sessions: given.sessions.map((one) => ({
      id: one.id,
      where: [one.device.slice(0, 100) || 'a device that does not say what it is', one.address].filter((part) => part !== '').join(', '),
      when: `last used ${when.format(new Date(one.lastUsedAt))}, begun ${when.format(new Date(one.startedAt))}`,
      isThis: one.isThis,
    })),
  }
}

function emailWords(email: string): string {
  return email === ''
    ? 'No address there finds you here by itself: an owner of this household can set one.'
    : `${email}, once it is verified there, finds you here by itself. An owner of this household has set it.`
}

export type SecondFactorView = {
  readonly faults: readonly ShownFault[]
  readonly secret: string
  readonly spaced: string
  readonly size: number
  readonly path: string
}

export function secondFactorView(given: {
  readonly secret: string
  readonly address: string
  readonly faults: readonly ShownFault[]
}): SecondFactorView {
  return {
    faults: given.faults,
    secret: given.secret,
    spaced: given.secret.replace(/(.{4})(?=.)/g, '$1 '),
    ...qrOf(given.address),
  }
}
