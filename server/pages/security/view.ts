import type { SecurityEvent, SecurityKind } from '../../records/security-log.ts'

export type View = {
  readonly rows: readonly { readonly when: string; readonly what: string; readonly says: string; readonly address: string }[]
  readonly earlier: string
}

const WORDS: Readonly<Record<SecurityKind, string>> = {
  'signed-in': 'Signed in',
  'sign-in-refused': 'Sign-in refused',
  'sign-in-held-back': 'Sign-in held back: too many tries',
  'signed-out': 'Signed out',
  'password-refused': 'Password asked for again, and wrong',
  'password-changed': 'Password changed',
  'second-factor-set': 'Second factor set up',
  'second-factor-removed': 'Second factor removed',
  'recovery-code-used': 'Recovery code used',
  'passkey-added': 'Passkey added',
  'passkey-removed': 'Passkey removed',
  'email-set': 'E-mail address set',
  'identity-connected': 'Account at a provider connected',
  'identity-removed': 'Account at a provider let go',
  'password-link-made': 'Link for a new password made on the machine',
  invited: 'Invitation made',
  'invitation-revoked': 'Invitation taken back',
  joined: 'Joined',
  'role-changed': 'Role changed',
  disabled: 'Door closed to',
  enabled: 'Let in again',
  'sessions-ended': 'Sessions ended',
  'token-made': 'Token made',
  'token-revoked': 'Token revoked',
  'token-refused': 'Token refused',
  'feed-made': 'Feed made',
  'feed-revoked': 'Feed taken back',
  'build-page-made': 'Build page made',
  'build-page-revoked': 'Build page taken back',
  'webhook-added': 'Webhook added',
  'webhook-revoked': 'Webhook revoked',
  'write-refused': 'Write refused',
  'forward-auth-ignored': 'Sign-in header from an unknown proxy ignored',
}

export function view(given: { readonly events: readonly SecurityEvent[]; readonly hasMore: boolean; readonly timeZone: string }): View {
  const when = new Intl.DateTimeFormat('en-GB', { dateStyle: 'medium', timeStyle: 'medium', timeZone: given.timeZone })
  return {
    rows: given.events.map(({ kind, says, address, recordedAt }) => ({
      when: when.format(new Date(recordedAt)),
      what: WORDS[kind] ?? kind,
      says,
      address,
    })),
    earlier: given.hasMore ? `/security?before=${given.events.at(-1)?.id}` : '',
  }
}
