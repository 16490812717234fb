/** Wiring that was changed and is not entered yet: findings near these components cannot be clear until it is finished. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import { defineChangeKind } from './change-kind.ts'
import { key, words } from './fields.ts'
import { missingComponent, withKey } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'unfinished' }>, 'kind'>

export const unfinished = defineChangeKind<Payload>({
  kind: 'unfinished',
  v: 1,
  payload: z.strictObject({ key, components: z.array(key).min(1).max(100), text: words(1000) }),
  apply(state, payload, given) {
    if (state.unfinished.has(payload.key)) return { sentence: `"${payload.key}" is already waiting to be finished.` }
    const missing = payload.components.find((component) => !state.components.has(component))
    if (missing !== undefined) return missingComponent(state, missing) ?? state
    return {
      ...state,
      unfinished: withKey(state.unfinished, payload.key, { ...payload, since: given.effectiveOn, entryId: given.entryId }),
    }
  },
  sentence: (payload, name) => `Left to finish: ${payload.text} (${payload.components.map(name.component).join(', ')}).`,
})
