/** Chassis: any terminal names, all one node. */
import { quantity } from './field.ts'
import { definePartKind } from './part-kind.ts'

export const chassis = definePartKind({
  id: 'chassis',
  title: 'Chassis',
  terminals: { type: 'one-node' },
  fields: [quantity('rated_A', 'Rated current', { basic: true, better: 'higher' })],
  branches: () => [],
})
