/** Diode. */
import { quantity } from './field.ts'
import { definePartKind } from './part-kind.ts'

export const diode = definePartKind({
  id: 'diode',
  title: 'Diode',
  terminals: { type: 'fixed', names: ['a', 'k'] },
  fields: [
    quantity('forward_V', 'Forward voltage', { max: 5, zero: true, better: 'lower' }),
    quantity('rated_A', 'Rated current', { basic: true, better: 'higher' }),
  ],
  branches: () => [{ from: 'a', to: 'k', element: 'diode' }],
})
