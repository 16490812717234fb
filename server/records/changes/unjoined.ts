/** Two terminals parted. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import { defineChangeKind } from './change-kind.ts'
import { terminal } from './fields.ts'
import { placeName } from './joined.ts'
import { joinKey, withoutKeys } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'unjoined' }>, 'kind'>

export const unjoined = defineChangeKind<Payload>({
  kind: 'unjoined',
  v: 1,
  payload: z.strictObject({ from: terminal, to: terminal }),
  apply(state, payload) {
    const key = joinKey(payload)
    if (!state.joins.has(key)) return { sentence: `${payload.from} is not joined to ${payload.to} then.` }
    return { ...state, joins: withoutKeys(state.joins, [key]) }
  },
  sentence: (payload, name) => `Parted ${placeName(payload.from, name.component)} from ${placeName(payload.to, name.component)}.`,
})
