/** Two terminals tied together. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import type { Join } from '../engine-types.ts'
import { defineChangeKind } from './change-kind.ts'
import { figure, terminal } from './fields.ts'
import { carriesFluid, componentOf, joinKey, terminalNameOf, withKey, wrongTerminal } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'joined' }>, 'kind'>

export const joined = defineChangeKind<Payload>({
  kind: 'joined',
  v: 1,
  payload: z.strictObject({ from: terminal, to: terminal, resistance_ohm: figure.optional() }),
  apply(state, payload, given) {
    const wrong = wrongTerminal(state, payload.from, given) ?? wrongTerminal(state, payload.to, given)
    if (wrong) return wrong
    const key = joinKey(payload)
    if (payload.from === payload.to) return { sentence: `${payload.from} cannot be joined to itself.` }
    if (state.joins.has(key)) return { sentence: `${payload.from} is already joined to ${payload.to}.` }
    if (carriesFluid(state, payload.from, given) !== carriesFluid(state, payload.to, given)) {
      return { sentence: `${payload.from} and ${payload.to} do not carry the same thing: one is electrical, the other carries fluid.` }
    }
    const join: Join = {
      from: payload.from,
      to: payload.to,
      ...(payload.resistance_ohm === undefined ? {} : { resistance_ohm: payload.resistance_ohm }),
    }
    return { ...state, joins: withKey(state.joins, key, join) }
  },
  sentence: (payload, name) => `Joined ${placeName(payload.from, name.component)} to ${placeName(payload.to, name.component)}.`,
})

export function placeName(end: string, component: (key: string) => string): string {
  return `${component(componentOf(end))} ${terminalNameOf(end)}`
}
