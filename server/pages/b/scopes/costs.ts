/** What was bought and, where prices are let through, what was spent. */
import { costsFor, currencyFor, lets, purchasesFor } from '../../../records/build-page.ts'
import { dateWords } from '../../../web/format.ts'
import { moneyWords } from '../../shared/money-words.ts'
import { pageOf } from '../../shared/paging.ts'
import { defineScope } from '../scope.ts'

export type View = {
  readonly years: readonly { readonly year: string; readonly sum: string }[]
  readonly note: string
  readonly hasPrices: boolean
  readonly hasSuppliers: boolean
  readonly count: string
  readonly earlier: { readonly href: string }
  readonly later: { readonly href: string }
  readonly rows: readonly {
    readonly when: string
    readonly part: string
    readonly count: string
    readonly price: string
    readonly supplier: string
  }[]
}

export const costs = defineScope({
  id: 'costs',
  title: 'Bought and spent',
  says: 'parts bought and the days; sums only where prices are ticked too',
  presets: [],
  template: '/b/costs',
  view({ db, share, link, query }): View {
    const currency = currencyFor(db, share)
    const { shown, count, before, after } = pageOf(purchasesFor(db, share), {
      asked: query.page,
      things: ['purchase', 'purchases'],
      address: (page) => link('costs', { page: String(page) }),
    })
    const hasPrices = lets(share, 'prices')
    return {
      years: (costsFor(db, share) ?? []).map(({ year, sum_minor }) => ({ year, sum: moneyWords(sum_minor, currency) })),
      note: hasPrices ? '' : 'Sums are left out on this page.',
      hasPrices,
      hasSuppliers: lets(share, 'suppliers'),
      count,
      earlier: { href: before },
      later: { href: after },
      rows: shown.map((one) => ({
        when: dateWords(one.on),
        part: one.part,
        count: String(one.count),
        price: one.price_minor === null ? 'not recorded' : moneyWords(one.price_minor, currency),
        supplier: one.supplier || 'not recorded',
      })),
    }
  },
})
