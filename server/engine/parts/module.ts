/** Module of switched outputs. */
import { quantity } from './field.ts'
import { definePartKind } from './part-kind.ts'

export const moduleKind = definePartKind({
  id: 'module',
  title: 'Switching module',
  terminals: { type: 'pattern', pattern: /^(in|-|out[1-9][0-9]?)$/, names: ['in', '-', 'out1', 'out2', 'out3', 'out4'] },
  fields: [
    quantity('channel_A', 'Current of one output', { basic: true, better: 'higher' }),
    quantity('trip_A', 'Trip current of one output'),
    quantity('resistance_ohm', 'Resistance of one output', { max: 10, zero: true, better: 'lower' }),
    quantity('total_A', 'Current of all outputs', { basic: true, better: 'higher' }),
  ],
  branches: ({ terminalsInUse }) =>
    terminalsInUse.filter((name) => name.startsWith('out')).map((out) => ({ from: 'in', to: out, element: 'series' as const })),
})
