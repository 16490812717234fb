/** What was left to finish has been entered. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import { defineChangeKind } from './change-kind.ts'
import { key } from './fields.ts'
import { withoutKeys } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'finished' }>, 'kind'>

export const finished = defineChangeKind<Payload>({
  kind: 'finished',
  v: 1,
  payload: z.strictObject({ key }),
  apply(state, payload) {
    if (!state.unfinished.has(payload.key)) return { sentence: `Nothing called "${payload.key}" is waiting to be finished then.` }
    return { ...state, unfinished: withoutKeys(state.unfinished, [payload.key]) }
  },
  sentence: () => 'Finished what was left to be entered.',
})
