/** Something to look at again, by date or distance, once or each time so long or so far after it was done; said again, it is set anew. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import { dayWords } from '../days.ts'
import { defineChangeKind } from './change-kind.ts'
import { day, figure, key, words } from './fields.ts'
import { missingComponent, withKey } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'due-set' }>, 'kind'>

export const dueSet = defineChangeKind<Payload>({
  kind: 'due-set',
  v: 1,
  payload: z
    .strictObject({
      key,
      component: key.exactOptional(),
      what: words(500),
      on: day.exactOptional(),
      odometer_km: figure.exactOptional(),
      every_months: z.number().int().min(1).max(600).exactOptional(),
      every_km: z.number().int().min(1).max(1_000_000).exactOptional(),
    })
    .refine((payload) => payload.on !== undefined || payload.odometer_km !== undefined, 'Say when: a date or an odometer reading.'),
  apply(state, payload, given) {
    const missing = payload.component === undefined ? undefined : missingComponent(state, payload.component)
    return missing ?? { ...state, due: withKey(state.due, payload.key, { ...payload, entryId: given.entryId }) }
  },
  sentence(payload) {
    const when = [
      payload.on === undefined ? undefined : dayWords(payload.on),
      payload.odometer_km === undefined ? undefined : `${payload.odometer_km} km`,
    ].filter((part) => part !== undefined)
    const again = [
      payload.every_months === undefined ? undefined : payload.every_months === 1 ? 'month' : `${payload.every_months} months`,
      payload.every_km === undefined ? undefined : `${payload.every_km} km`,
    ].filter((part) => part !== undefined)
    return `Set to look at again: ${payload.what} (${when.join(' or ')}${again.length > 0 ? `, then every ${again.join(' or ')}` : ''}).`
  },
})
