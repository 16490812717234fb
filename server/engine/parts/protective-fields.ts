/** Fields that fuses and breakers share. */
import { choice, quantity } from './field.ts'
import type { RatingField } from './part-kind.ts'

export const protectiveFields: readonly RatingField[] = [
  quantity('rated_A', 'Rated current', { basic: true }),
  quantity('rated_V', 'Rated voltage', { basic: true, better: 'higher' }),
  quantity('breaking_A', 'Breaking capacity', { better: 'higher' }),
  choice('form', 'Form', ['C', 'E', 'F', 'A1', 'SF30', 'SF51', 'single-bolt', 'glass', 'class-T', 'link'], { basic: true }),
  { name: 'size', label: 'Link size, with its system', type: 'size' },
  quantity('resistance_ohm', 'Resistance', { max: 100, zero: true, better: 'lower' }),
]
