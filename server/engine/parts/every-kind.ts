/** Rating fields that a part of any kind may carry. */
import { choice, quantity, temperature } from './field.ts'
import type { RatingField } from './part-kind.ts'

export const everyKindFields: readonly RatingField[] = [
  temperature('maxAmbient_degC', 'Highest ambient', { better: 'higher' }),
  { name: 'ingress', label: 'Ingress code (IEC 60529, ISO 20653)', type: 'text', pattern: '^IP[0-9X]K?[0-9X]K?$' },
  choice('fuel', 'Fuel it withstands', ['none', 'vapour', 'immersed']),
  quantity('holder_A', 'Holder or socket rating', { better: 'higher' }),
]
