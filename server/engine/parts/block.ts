/** Block: a bar or stud that several ways share. */
import { quantity } from './field.ts'
import { definePartKind } from './part-kind.ts'

export const block = definePartKind({
  id: 'block',
  title: 'Distribution block',
  terminals: { type: 'one-node' },
  fields: [
    { name: 'ways', label: 'Ways', type: 'number', unit: '', min: 1, max: 200, whole: true, basic: true },
    quantity('total_A', 'Current of the whole block', { basic: true, better: 'higher' }),
    quantity('way_A', 'Current of one way', { basic: true, better: 'higher' }),
    quantity('entryMin_mm2', 'Smallest conductor it takes'),
    quantity('entryMax_mm2', 'Largest conductor it takes'),
  ],
  branches: () => [],
})
