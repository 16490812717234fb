/** Battery: an EMF behind its internal resistance. */
import { choice, quantity } from './field.ts'
import { definePartKind } from './part-kind.ts'

export const battery = definePartKind({
  id: 'battery',
  title: 'Battery',
  terminals: { type: 'fixed', names: ['+', '-'] },
  fields: [
    quantity('nominal_V', 'Nominal voltage', { basic: true, max: 60 }),
    quantity('openCircuit_V', 'Open-circuit voltage, rested', { max: 80 }),
    quantity('internalResistance_ohm', 'Internal resistance', { max: 10, zero: true, better: 'lower' }),
    quantity('capacity_Ah', 'Capacity at the 20-hour rate', { basic: true, better: 'higher' }),
    { name: 'peukert', label: 'Peukert exponent', type: 'number', unit: '', min: 1, max: 2 },
    quantity('coldCranking_A', 'Cold-cranking current', { basic: true }),
    choice('coldCrankingTest', 'Cold-cranking test', ['SAE', 'EN']),
    { name: 'chemistry', label: 'Chemistry', type: 'text' },
  ],
  branches: () => [{ from: '+', to: '-', element: 'source' }],
})
