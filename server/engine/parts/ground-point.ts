/** Ground point: any terminal names, all one node. */
import { quantity } from './field.ts'
import { definePartKind } from './part-kind.ts'

export const groundPoint = definePartKind({
  id: 'ground-point',
  title: 'Ground point',
  terminals: { type: 'one-node' },
  fields: [quantity('rated_A', 'Rated current', { basic: true, better: 'higher' })],
  branches: () => [],
})
