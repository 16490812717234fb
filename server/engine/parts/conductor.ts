/** Conductor: one wire or strap, or several identical ones side by side. */
import { choice, quantity, temperature } from './field.ts'
import { definePartKind } from './part-kind.ts'

export const conductor = definePartKind({
  id: 'conductor',
  title: 'Conductor',
  terminals: { type: 'fixed', names: ['a', 'b'] },
  fields: [
    choice('material', 'Material', ['copper', 'tinned-copper', 'cca-10', 'cca-15', 'aluminium'], { basic: true }),
    quantity('crossSection_mm2', 'Cross-section', { basic: true, max: 1000 }),
    { name: 'size', label: 'Size, with its system', type: 'size' },
    temperature('insulation_degC', 'Insulation temperature rating', { basic: true, better: 'higher' }),
    { name: 'insulation', label: 'Insulation', type: 'text' },
    quantity('resistance20_ohmPerM', 'Resistance at 20 °C, from the datasheet', { max: 10, better: 'lower' }),
  ],
  branches: () => [{ from: 'a', to: 'b', element: 'series' }],
})
