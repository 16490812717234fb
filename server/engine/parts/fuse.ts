/** Fuse. */
import { definePartKind } from './part-kind.ts'
import { protectiveFields } from './protective-fields.ts'

export const fuse = definePartKind({
  id: 'fuse',
  title: 'Fuse',
  terminals: { type: 'fixed', names: ['in', 'out'] },
  fields: protectiveFields,
  branches: () => [{ from: 'in', to: 'out', element: 'series' }],
})
