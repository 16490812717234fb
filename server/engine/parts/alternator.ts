/** Alternator: holds its set-point up to what it can give at that speed. */
import { quantity } from './field.ts'
import { definePartKind } from './part-kind.ts'

export const alternator = definePartKind({
  id: 'alternator',
  title: 'Alternator',
  terminals: { type: 'fixed', names: ['+', '-', 'sense'] },
  fields: [
    quantity('setPoint_V', 'Regulator set-point', { basic: true, max: 80 }),
    quantity('output_A', 'Output, hot, at road speed', { basic: true, better: 'higher' }),
    quantity('idleOutput_A', 'Output at idle', { basic: true, zero: true, better: 'higher' }),
  ],
  branches: () => [{ from: '+', to: '-', element: 'source' }],
})
