/** Relay: make contact 30–87 (87b), break contact 30–87a, coil 86–85; terminal numbers of DIN 72552. */
import { choice, quantity } from './field.ts'
import { definePartKind } from './part-kind.ts'

export const relay = definePartKind({
  id: 'relay',
  title: 'Relay',
  terminals: { type: 'fixed', names: ['30', '87', '87b', '87a', '85', '86'] },
  fields: [
    quantity('make_A', 'Carry current, make contact (30–87)', { basic: true, better: 'higher' }),
    quantity('break_A', 'Carry current, break contact (30–87a)', { better: 'higher' }),
    {
      name: 'makeByAmbient',
      label: 'Carry current by ambient',
      type: 'rows',
      columns: [
        { name: 'ambient_degC', label: 'Ambient', unit: 'degC' },
        { name: 'current_A', label: 'Carry current', unit: 'A' },
      ],
    },
    quantity('inrush_A', 'Making current', { better: 'higher' }),
    quantity('rated_V', 'Rated voltage', { basic: true }),
    quantity('contactResistance_ohm', 'Contact resistance', { max: 10, zero: true, better: 'lower' }),
    quantity('coil_ohm', 'Coil resistance', { basic: true }),
    quantity('pickUp20_V', 'Pick-up voltage at 20 °C'),
    choice('duty', 'Duty', ['continuous', 'intermittent']),
    choice('suppression', 'Coil suppression', ['none', 'resistor', 'diode', 'zener']),
  ],
  branches: ({ terminalsInUse }) =>
    [
      { from: '30', to: '87', element: 'contact-make' as const },
      { from: '30', to: '87b', element: 'contact-make' as const },
      { from: '30', to: '87a', element: 'contact-break' as const },
      { from: '86', to: '85', element: 'coil' as const },
    ].filter(
      (branch) => branch.to === '87' || terminalsInUse.includes(branch.to) || (branch.element === 'coil' && terminalsInUse.includes('86')),
    ),
})
