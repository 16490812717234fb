/** A reading taken at a terminal or of a component. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import { defineChangeKind } from './change-kind.ts'
import { key, terminal } from './fields.ts'
import { placeName } from './joined.ts'
import { missingComponent, wrongTerminal } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'measured' }>, 'kind'>

const units = { voltage: 'V', current: 'A', resistance: 'Ω' } as const

export const measured = defineChangeKind<Payload>({
  kind: 'measured',
  v: 1,
  isWord: true,
  payload: z.strictObject({
    at: z.union([terminal, key]),
    quantity: z.enum(['voltage', 'current', 'resistance']),
    value: z.number().min(-1e6).max(1e6),
    condition: key.exactOptional(),
  }),
  apply(state, payload, given) {
    const fault = payload.at.includes(':') ? wrongTerminal(state, payload.at, given) : missingComponent(state, payload.at)
    if (fault) return fault
    if (payload.condition !== undefined && !state.conditions.has(payload.condition))
      return { sentence: `There is no condition "${payload.condition}" then.` }
    return state
  },
  sentence(payload, name) {
    const place = payload.at.includes(':') ? placeName(payload.at, name.component) : name.component(payload.at)
    return `Measured ${payload.value} ${units[payload.quantity]} at ${place}.`
  },
})
