/** What was due has been looked at. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import { defineChangeKind } from './change-kind.ts'
import { key } from './fields.ts'
import { withoutKeys } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'due-done' }>, 'kind'>

export const dueDone = defineChangeKind<Payload>({
  kind: 'due-done',
  v: 1,
  payload: z.strictObject({ key }),
  apply(state, payload) {
    if (!state.due.has(payload.key)) return { sentence: `Nothing called "${payload.key}" is due then.` }
    return { ...state, due: withoutKeys(state.due, [payload.key]) }
  },
  sentence: (payload) => `Looked at what was due (${payload.key}).`,
})
