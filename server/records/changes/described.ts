/** Vehicle figures, a zone, a condition or a component's details, set anew. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import type { State } from '../state.ts'
import { type Conflict, defineChangeKind } from './change-kind.ts'
import { condition, describedComponent, figure, words, zone } from './fields.ts'
import { missingComponent, withKey } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'described' }>, 'kind'>

const vehicle = z.looseObject({
  name: words(120).optional(),
  systemVoltage_V: z.number().positive().max(1000).optional(),
  maximum_V: z.number().positive().max(1000).optional(),
  reserve_h: figure.optional(),
  fuelDemand: z.record(z.string(), z.union([z.number(), z.string()])).optional(),
})

export const described = defineChangeKind<Payload>({
  kind: 'described',
  v: 1,
  payload: z
    .strictObject({
      vehicle: vehicle.exactOptional(),
      zone: zone.exactOptional(),
      condition: condition.exactOptional(),
      component: describedComponent.exactOptional(),
      cleared: z
        .array(z.enum(['colour', 'stripe', 'number', 'fittings']))
        .min(1)
        .max(4)
        .exactOptional(),
    })
    .refine((payload) => Object.values(payload).some((part) => part !== undefined), 'Say what is described.')
    .refine(
      ({ component, cleared }) => cleared === undefined || component !== undefined,
      'Say of which component it is cleared.',
    ) as unknown as z.ZodType<Payload>,
  apply(state, payload) {
    let next = state
    if (payload.vehicle) next = { ...next, vehicle: { ...next.vehicle, ...payload.vehicle } }
    if (payload.zone) next = { ...next, zones: withKey(next.zones, payload.zone.key, payload.zone) }
    if (payload.condition) {
      const missing = [...(payload.condition.on ?? []), ...(payload.condition.open ?? [])].find((key) => !next.components.has(key))
      if (missing !== undefined)
        return {
          sentence: `The condition ${payload.condition.name} names "${missing}", which is not in the vehicle then.`,
          component: missing,
        }
      next = { ...next, conditions: withKey(next.conditions, payload.condition.key, payload.condition) }
    }
    return payload.component ? detailsSet(next, payload.component, payload.cleared ?? []) : next
  },
  sentence(payload, name) {
    const things = [
      payload.vehicle && 'the vehicle',
      payload.zone && `the zone ${payload.zone.name}`,
      payload.condition && `the condition ${payload.condition.name}`,
      payload.component && name.component(payload.component.key),
    ].filter((thing) => typeof thing === 'string')
    return `Described ${things.join(' and ')}.`
  },
})

function detailsSet(state: State, details: NonNullable<Payload['component']>, cleared: NonNullable<Payload['cleared']>): State | Conflict {
  const component = state.components.get(details.key)
  if (!component) return missingComponent(state, details.key) as Conflict
  if (details.zone !== undefined && !state.zones.has(details.zone))
    return { sentence: `There is no zone "${details.zone}" then.`, component: details.key }
  const kept = { ...component }
  for (const mark of cleared) delete kept[mark]
  return { ...state, components: withKey(state.components, details.key, { ...kept, ...details }) }
}
