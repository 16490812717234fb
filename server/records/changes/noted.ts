/** Something worth remembering. */
import { z } from 'zod'
import type { Change } from '../contract.ts'
import { defineChangeKind } from './change-kind.ts'
import { key, words } from './fields.ts'
import { missingComponent } from './wiring.ts'

type Payload = Omit<Extract<Change, { kind: 'noted' }>, 'kind'>

export const noted = defineChangeKind<Payload>({
  kind: 'noted',
  v: 1,
  isWord: true,
  payload: z.strictObject({ component: key.exactOptional(), text: words(5000) }),
  apply(state, payload) {
    return (payload.component === undefined ? undefined : missingComponent(state, payload.component)) ?? state
  },
  sentence: (payload, name) =>
    payload.component === undefined ? `Noted: ${payload.text}` : `Noted ${name.component(payload.component)}: ${payload.text}`,
})
