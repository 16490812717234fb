/** What was due need not be looked at any more, this time or ever. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import { defineChangeKind } from './change-kind.ts'
import { key } from './fields.ts'
import { withoutKeys } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'due-dropped' }>, 'kind'>

export const dueDropped = defineChangeKind<Payload>({
  kind: 'due-dropped',
  v: 1,
  payload: z.strictObject({ key }),
  apply(state, payload) {
    if (!state.due.has(payload.key)) return { sentence: `Nothing called "${payload.key}" is due then.` }
    return { ...state, due: withoutKeys(state.due, [payload.key]) }
  },
  sentence: (payload) => `Taken off what is due (${payload.key}).`,
})
