/** Another name for the same component; its key stays. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import { defineChangeKind } from './change-kind.ts'
import { key, words } from './fields.ts'
import { missingComponent, withKey } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'renamed' }>, 'kind'>

export const renamed = defineChangeKind<Payload>({
  kind: 'renamed',
  v: 1,
  payload: z.strictObject({ component: key, name: words(120) }),
  apply(state, payload) {
    const component = state.components.get(payload.component)
    if (!component) return missingComponent(state, payload.component) ?? state
    return { ...state, components: withKey(state.components, payload.component, { ...component, name: payload.name }) }
  },
  sentence: (payload, name) => `Renamed ${name.component(payload.component)} to ${payload.name}.`,
})
