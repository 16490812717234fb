/** A new component, holding a part. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import { defineChangeKind } from './change-kind.ts'
import { component } from './fields.ts'
import { withKey } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'fitted' }>, 'kind'>

export const fitted = defineChangeKind<Payload>({
  kind: 'fitted',
  v: 1,
  payload: z.strictObject({ component }) as z.ZodType<Payload>,
  apply(state, payload, given) {
    const { key, name, zone, part } = payload.component
    if (state.components.has(key)) return { sentence: `There is already a component "${key}" then.`, component: key }
    if (zone !== undefined && !state.zones.has(zone)) return { sentence: `There is no zone "${zone}" for ${name} then.`, component: key }
    if (given.kindOfPart(part) === undefined) return { sentence: `The part for ${name} is not known.`, component: key }
    return {
      ...state,
      components: withKey(state.components, key, payload.component),
      fittedOn: withKey(state.fittedOn, key, given.effectiveOn),
    }
  },
  sentence: (payload, name) => `Fitted ${payload.component.name} (${name.part(payload.component.part)}).`,
})
