import type { SessionFacts } from '../../records/sessions.ts'
import type { ShownFault } from '../shared/faults.ts'
import { qrOf } from '../shared/qr.ts'

export type View = {
  readonly faults: readonly ShownFault[]
  readonly done: string
  readonly hasSecondFactor: boolean
  readonly codesLeft: string
  readonly sessions: readonly { readonly id: string; readonly where: string; readonly when: string; readonly isThis: boolean }[]
}

export function view(given: {
  readonly hasSecondFactor: boolean
  readonly codesLeft: number
  readonly sessions: readonly SessionFacts[]
  readonly timeZone: string
  readonly faults: readonly ShownFault[]
  readonly done: string
}): View {
  const when = new Intl.DateTimeFormat('en-GB', { dateStyle: 'medium', timeStyle: 'short', timeZone: given.timeZone })
  return {
    faults: given.faults,
    done: given.done,
    hasSecondFactor: given.hasSecondFactor,
    codesLeft: `${given.codesLeft} recovery code${given.codesLeft === 1 ? '' : 's'} left`,
    sessions: given.sessions.map((one) => ({
      id: one.id,
      where: [one.device.slice(0, 100) || 'a device that does not say what it is', one.address].filter((part) => part !== '').join(', '),
      when: `last used ${when.format(new Date(one.lastUsedAt))}, begun ${when.format(new Date(one.startedAt))}`,
      isThis: one.isThis,
    })),
  }
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
