/** Fuel hose; classes of SAE J30. */
import { quantity } from './field.ts'
import { definePartKind } from './part-kind.ts'

export const hose = definePartKind({
  id: 'hose',
  title: 'Hose',
  terminals: { type: 'fixed', names: ['a', 'b'], fluid: ['a', 'b'] },
  fields: [
    { name: 'service', label: 'SAE J30 class', type: 'text', basic: true },
    quantity('bore_mm', 'Bore', { basic: true }),
    quantity('working_kPa', 'Working pressure', { basic: true, better: 'higher' }),
  ],
  branches: () => [],
})
