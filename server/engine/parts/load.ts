/** Load: draws current by its behaviour. */
import { loadFields } from './load-fields.ts'
import { definePartKind } from './part-kind.ts'

export const load = definePartKind({
  id: 'load',
  title: 'Load',
  terminals: { type: 'fixed', names: ['+', '-'] },
  fields: loadFields,
  branches: () => [{ from: '+', to: '-', element: 'load' }],
})
