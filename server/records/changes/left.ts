/** The vehicle was sold, given away or scrapped on the day of the entry: it stays readable and is listed apart. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import { defineChangeKind } from './change-kind.ts'

type Payload = Omit<Extract<Change, { kind: 'left' }>, 'kind'>

export const left = defineChangeKind<Payload>({
  kind: 'left',
  v: 1,
  payload: z.strictObject({ how: z.enum(['sold', 'given away', 'scrapped']), to: z.string().max(200).exactOptional() }),
  apply(state, payload, given) {
    if (state.vehicle.leftOn !== undefined) return { sentence: `${state.vehicle.name} had left already.` }
    return { ...state, vehicle: { ...state.vehicle, leftOn: given.effectiveOn, leftHow: payload.how, leftTo: payload.to ?? '' } }
  },
  sentence: (payload) => `Left: ${payload.how}${payload.to ? ` to ${payload.to}` : ''}.`,
})
