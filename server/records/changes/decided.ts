/** Why this one: what was chosen, what else was considered, and why not. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import { defineChangeKind } from './change-kind.ts'
import { key, words } from './fields.ts'
import { missingComponent } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'decided' }>, 'kind'>

const partId = z.string().min(1).max(80)

export const decided = defineChangeKind<Payload>({
  kind: 'decided',
  v: 1,
  isWord: true,
  payload: z.strictObject({
    component: key.exactOptional(),
    chosen: partId.exactOptional(),
    considered: z
      .array(
        z.union([
          z.strictObject({ part: partId, whyNot: z.string().max(1000) }),
          z.strictObject({ words: words(200), whyNot: z.string().max(1000) }),
        ]),
      )
      .max(12),
    why: words(5000),
  }),
  apply(state, payload, given) {
    const parts = [payload.chosen, ...payload.considered.map((one) => ('part' in one ? one.part : undefined))]
    if (parts.some((part) => part !== undefined && given.kindOfPart(part) === undefined))
      return { sentence: 'One of the parts considered is not known.' }
    return (payload.component === undefined ? undefined : missingComponent(state, payload.component)) ?? state
  },
  sentence(payload, name) {
    const place = payload.component === undefined ? '' : ` for ${name.component(payload.component)}`
    const others = payload.considered.map((one) => ('part' in one ? name.part(one.part) : one.words))
    const chosen = payload.chosen === undefined ? 'Decided' : `Chose ${name.part(payload.chosen)}`
    return `${chosen}${place}${others.length > 0 ? `, over ${others.join(', ')}` : ''}: ${payload.why}`
  },
})
