/** A conductor or hose laid another way: its length, zone or bundle. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import { defineChangeKind } from './change-kind.ts'
import { figure, key } from './fields.ts'
import { missingComponent, withKey } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'rerouted' }>, 'kind'>

export const rerouted = defineChangeKind<Payload>({
  kind: 'rerouted',
  v: 1,
  payload: z.strictObject({
    component: key,
    length_m: figure.exactOptional(),
    zone: key.exactOptional(),
    bundle: z.number().int().min(1).max(200).exactOptional(),
  }),
  apply(state, { component: key, ...route }) {
    const component = state.components.get(key)
    if (!component) return missingComponent(state, key) ?? state
    if (route.zone !== undefined && !state.zones.has(route.zone))
      return { sentence: `There is no zone "${route.zone}" then.`, component: key }
    return { ...state, components: withKey(state.components, key, { ...component, ...route }) }
  },
  sentence(payload, name) {
    const length = payload.length_m === undefined ? '' : `, now ${payload.length_m} m`
    return `Rerouted ${name.component(payload.component)}${length}.`
  },
})
