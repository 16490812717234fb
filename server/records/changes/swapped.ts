/** Another part in the same place: name and wiring stay, unless `terminals` says where each wire went. */

import { z } from 'zod'
import { isTerminal } from '../../engine/parts/index.ts'
import type { Change } from '../contract.ts'
import type { Join } from '../engine-types.ts'
import { defineChangeKind } from './change-kind.ts'
import { fate, key } from './fields.ts'
import { componentOf, joinKey, missingComponent, terminalNameOf, terminalsInUse, withKey } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'swapped' }>, 'kind'>

export const swapped = defineChangeKind<Payload>({
  kind: 'swapped',
  v: 1,
  payload: z.strictObject({
    component: key,
    part: z.string().min(1).max(80),
    fate,
    terminals: z.record(z.string(), z.string()).exactOptional(),
  }),
  apply(state, payload, given) {
    const component = state.components.get(payload.component)
    if (!component) return missingComponent(state, payload.component) ?? state
    const kind = given.kindOfPart(payload.part)
    if (kind === undefined) return { sentence: `The new part for ${component.name} is not known.`, component: component.key }
    const moves = payload.terminals ?? {}
    const now = (terminal: string): string => moves[terminal] ?? terminal
    for (const terminal of terminalsInUse(state, component.key)) {
      if (!isTerminal(kind, now(terminal))) {
        return {
          sentence: `A wire is on terminal ${terminal} of ${component.name}, and the new part has no ${now(terminal)}. Say where it went.`,
          component: component.key,
        }
      }
    }
    const moved = (end: string): string => (componentOf(end) === component.key ? `${component.key}:${now(terminalNameOf(end))}` : end)
    const joins = new Map<string, Join>()
    for (const join of state.joins.values()) {
      const next = { ...join, from: moved(join.from), to: moved(join.to) }
      if (joins.has(joinKey(next)) || next.from === next.to)
        return { sentence: `Two joins of ${component.name} would become one and the same.`, component: component.key }
      joins.set(joinKey(next), next)
    }
    return {
      ...state,
      joins,
      components: withKey(state.components, component.key, { ...component, part: payload.part }),
      fittedOn: withKey(state.fittedOn, component.key, given.effectiveOn),
    }
  },
  sentence: (payload, name) => `Swapped ${name.component(payload.component)} to ${name.part(payload.part)} (old part: ${payload.fate}).`,
})
