/** Work that changed nothing in the wiring. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import { defineChangeKind } from './change-kind.ts'
import { key, words } from './fields.ts'
import { missingComponent } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'serviced' }>, 'kind'>

export const serviced = defineChangeKind<Payload>({
  kind: 'serviced',
  v: 1,
  isWord: true,
  payload: z.strictObject({ component: key.exactOptional(), text: words(5000) }),
  apply(state, payload) {
    return (payload.component === undefined ? undefined : missingComponent(state, payload.component)) ?? state
  },
  sentence: (payload, name) =>
    payload.component === undefined ? `Serviced: ${payload.text}` : `Serviced ${name.component(payload.component)}: ${payload.text}`,
})
