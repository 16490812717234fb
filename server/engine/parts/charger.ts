/** Charger (solar, shore): gives up to its output. */
import { quantity } from './field.ts'
import { definePartKind } from './part-kind.ts'

export const charger = definePartKind({
  id: 'charger',
  title: 'Charger',
  terminals: { type: 'fixed', names: ['out', '-'] },
  fields: [
    quantity('output_V', 'Output voltage', { basic: true, max: 80 }),
    quantity('output_A', 'Output current', { basic: true, better: 'higher' }),
  ],
  branches: () => [{ from: 'out', to: '-', element: 'source' }],
})
