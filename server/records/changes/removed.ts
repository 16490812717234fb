/** A component taken out; whatever was joined to it comes loose. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import { defineChangeKind } from './change-kind.ts'
import { fate, key } from './fields.ts'
import { joinKey, joinsAt, missingComponent, withoutKeys } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'removed' }>, 'kind'>

export const removed = defineChangeKind<Payload>({
  kind: 'removed',
  v: 1,
  payload: z.strictObject({ component: key, fate }),
  apply(state, payload) {
    return (
      missingComponent(state, payload.component) ?? {
        ...state,
        components: withoutKeys(state.components, [payload.component]),
        joins: withoutKeys(state.joins, joinsAt(state, payload.component).map(joinKey)),
        fittedOn: withoutKeys(state.fittedOn, [payload.component]),
      }
    )
  },
  sentence: (payload, name) => `Removed ${name.component(payload.component)} (old part: ${payload.fate}).`,
})
