/** DC–DC converter: one way, holds its output voltage up to its output current. */
import { quantity } from './field.ts'
import { definePartKind } from './part-kind.ts'

export const converter = definePartKind({
  id: 'converter',
  title: 'Converter',
  terminals: { type: 'fixed', names: ['in', 'out', '-'] },
  fields: [
    quantity('output_V', 'Output voltage', { basic: true, max: 80 }),
    quantity('output_A', 'Output current', { basic: true, better: 'higher' }),
    { name: 'efficiency', label: 'Efficiency (share)', type: 'number', unit: '', aboveZero: true, max: 1, better: 'higher' },
  ],
  branches: () => [
    { from: 'in', to: '-', element: 'load' },
    { from: 'out', to: '-', element: 'source' },
  ],
})
