/** Pump: a load with a fluid side. */
import { loadFields } from './load-fields.ts'
import { definePartKind } from './part-kind.ts'

export const pump = definePartKind({
  id: 'pump',
  title: 'Pump',
  terminals: { type: 'fixed', names: ['+', '-', 'inlet', 'outlet'], fluid: ['inlet', 'outlet'] },
  fields: [
    ...loadFields,
    {
      name: 'delivery',
      label: 'Delivery',
      type: 'rows',
      columns: [
        { name: 'pressure_kPa', label: 'Pressure', unit: 'kPa' },
        { name: 'supply_V', label: 'Supply', unit: 'V' },
        { name: 'flow_LPerH', label: 'Flow', unit: 'LPerH' },
        { name: 'current_A', label: 'Current', unit: 'A' },
      ],
    },
  ],
  branches: () => [{ from: '+', to: '-', element: 'load' }],
})
