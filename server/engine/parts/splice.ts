/** Splice: any terminal names, all one node. */
import { quantity } from './field.ts'
import { definePartKind } from './part-kind.ts'

export const splice = definePartKind({
  id: 'splice',
  title: 'Splice',
  terminals: { type: 'one-node' },
  fields: [quantity('rated_A', 'Rated current', { basic: true, better: 'higher' })],
  branches: () => [],
})
