/** Fields that loads and pumps share. */
import { choice, quantity } from './field.ts'
import type { RatingField } from './part-kind.ts'

export const loadFields: readonly RatingField[] = [
  choice('behaviour', 'How its current follows voltage', ['resistive', 'current', 'power'], { basic: true }),
  quantity('rated_V', 'Voltage of that figure', { basic: true }),
  quantity('current_A', 'Current', { basic: true, zero: true }),
  quantity('power_W', 'Power', { basic: true, zero: true }),
  choice('nature', 'Nature', ['resistive', 'lamp', 'motor', 'inductive', 'electronic'], { basic: true }),
  quantity('minimum_V', 'Lowest working voltage', { better: 'lower' }),
  quantity('maximum_V', 'Highest voltage it withstands', { better: 'higher' }),
  quantity('inrush_A', 'Inrush current'),
  quantity('inrush_s', 'Inrush time', { max: 1000 }),
  choice('duty', 'Duty', ['continuous', 'intermittent']),
  { name: 'pwmDuty', label: 'PWM duty (share)', type: 'number', unit: '', aboveZero: true, max: 1 },
  { name: 'essential', label: 'Essential (3 % drop class)', type: 'flag' },
  { name: 'starter', label: 'Starter motor', type: 'flag' },
]
