/** Circuit breaker: as a fuse, with its way of resetting (SAE J553 types). */
import { choice } from './field.ts'
import { definePartKind } from './part-kind.ts'
import { protectiveFields } from './protective-fields.ts'

export const breaker = definePartKind({
  id: 'breaker',
  title: 'Circuit breaker',
  terminals: { type: 'fixed', names: ['in', 'out'] },
  fields: [...protectiveFields, choice('reset', 'Reset', ['automatic', 'modified', 'manual'], { basic: true })],
  branches: () => [{ from: 'in', to: 'out', element: 'series' }],
})
