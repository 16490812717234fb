/** Connector: pole n joins na to nb. */
import { quantity } from './field.ts'
import { definePartKind } from './part-kind.ts'

export const connector = definePartKind({
  id: 'connector',
  title: 'Connector',
  terminals: { type: 'pattern', pattern: /^[1-9][0-9]{0,2}[ab]$/, names: ['1a', '1b', '2a', '2b', '3a', '3b', '4a', '4b'] },
  fields: [
    { name: 'poles', label: 'Poles', type: 'number', unit: '', min: 1, max: 200, whole: true, basic: true },
    quantity('pole_A', 'Current of one pole', { basic: true, better: 'higher' }),
    quantity('contactResistance_ohm', 'Contact resistance', { max: 10, zero: true, better: 'lower' }),
    quantity('entryMin_mm2', 'Smallest conductor it takes'),
    quantity('entryMax_mm2', 'Largest conductor it takes'),
  ],
  branches: ({ terminalsInUse }) =>
    [...new Set(terminalsInUse.map((name) => name.slice(0, -1)))]
      .sort()
      .map((pole) => ({ from: `${pole}a`, to: `${pole}b`, element: 'series' as const })),
})
