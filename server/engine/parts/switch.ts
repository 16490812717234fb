/** Switch: one input, one or more outputs. */
import { quantity } from './field.ts'
import { definePartKind } from './part-kind.ts'

export const switchKind = definePartKind({
  id: 'switch',
  title: 'Switch',
  terminals: { type: 'pattern', pattern: /^(in|out([2-9]|[1-9][0-9])?)$/, names: ['in', 'out', 'out2'] },
  fields: [
    quantity('rated_A', 'Rated current', { basic: true, better: 'higher' }),
    quantity('inrush_A', 'Making current', { better: 'higher' }),
    quantity('rated_V', 'Rated voltage', { basic: true, better: 'higher' }),
    quantity('contactResistance_ohm', 'Contact resistance', { max: 10, zero: true, better: 'lower' }),
  ],
  branches: ({ terminalsInUse }) =>
    ['out', ...terminalsInUse.filter((name) => name !== 'in' && name !== 'out')].map((out) => ({
      from: 'in',
      to: out,
      element: 'series' as const,
    })),
})
