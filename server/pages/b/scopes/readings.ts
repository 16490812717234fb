/** What was measured, where and when. */
import { readingsFor } from '../../../records/build-page.ts'
import { asRead, dateWords } from '../../../web/format.ts'
import { pageOf } from '../../shared/paging.ts'
import { capital } from '../../shared/rule-words.ts'
import { defineScope } from '../scope.ts'

export type View = {
  readonly count: string
  readonly earlier: { readonly href: string }
  readonly later: { readonly href: string }
  readonly rows: readonly {
    readonly when: string
    readonly place: string
    readonly quantity: string
    readonly value: string
    readonly condition: string
  }[]
}

const UNITS: Readonly<Record<string, string>> = { voltage: 'V', current: 'A', resistance: 'ohm' }

export const readings = defineScope({
  id: 'readings',
  title: 'Readings',
  says: 'voltages, currents and resistances measured, with the day and the place in the circuit',
  presets: ['workshop'],
  template: '/b/readings',
  view({ db, share, link, query }): View {
    const { shown, count, before, after } = pageOf(readingsFor(db, share), {
      asked: query.page,
      things: ['reading', 'readings'],
      address: (page) => link('readings', { page: String(page) }),
    })
    return {
      count,
      earlier: { href: before },
      later: { href: after },
      rows: shown.map(({ on, place, quantity, value, condition }) => ({
        when: dateWords(on),
        place,
        quantity: capital(quantity),
        value: asRead(value, UNITS[quantity] ?? ''),
        condition,
      })),
    }
  },
})
