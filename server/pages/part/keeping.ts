/** What the part page says of keeping it: where it was fitted, where it failed, what was bought, what is left, why it was chosen. */
import type { Decision } from '../../records/decisions.ts'
import type { Fitting } from '../../records/fittings.ts'
import { isSoldByLength, type Leftover } from '../../records/leftovers.ts'
import { lastPriceOf, type Purchase } from '../../records/purchases.ts'
import type { FormReader } from '../../web/form.ts'
import { dateWords, figure } from '../../web/format.ts'
import { type DecisionView, decisionView } from '../shared/decision-words.ts'
import { durationWords } from '../shared/duration-words.ts'
import { moneyWords } from '../shared/money-words.ts'

export type Kept = {
  readonly partId: string
  readonly kind: string
  readonly fittings: readonly Fitting[]
  readonly purchases: readonly Purchase[]
  readonly leftovers: { readonly pieces: readonly Leftover[]; readonly total_m: number }
  readonly decisions: readonly Decision[]
  readonly currency: string
  readonly today: string
}
export type KeepingView = {
  readonly where: readonly { readonly href: string; readonly words: string; readonly when: string; readonly now: boolean }[]
  readonly failures: readonly { readonly says: string; readonly href: string; readonly lookHref: string }[]
  readonly decisions: readonly DecisionView[]
  readonly bought: readonly { readonly id: string; readonly says: string; readonly price: string; readonly when: string }[]
  readonly byLength: boolean
  readonly pieces: readonly { readonly id: string; readonly field: string; readonly says: string; readonly typed: string }[]
  readonly left: string
  readonly buying: Readonly<Record<'bought' | 'pieces' | 'paid' | 'supplier' | 'length' | 'kept', string>>
  readonly stays: boolean
  readonly currency: string
  readonly keepingFacts: readonly { readonly label: string; readonly value: string }[]
}

export function keepingView(kept: Kept, form: FormReader | null): KeepingView {
  const { currency, purchases, leftovers } = kept
  const typed = (field: string) => form?.typed(field) ?? ''
  const price = lastPriceOf(purchases)
  const byLength = isSoldByLength(kept.kind)
  return {
    where: kept.fittings.map((one) => ({
      href: `/vehicles/${one.vehicleId}/components/${one.component}`,
      words: `${one.componentName}, ${one.vehicleName}`,
      when: `from ${dateWords(one.from)}${one.until === null ? '' : ` to ${dateWords(one.until)}`}`,
      now: one.until === null,
    })),
    failures: kept.fittings.flatMap((one) =>
      one.fate === 'failed' && one.until !== null
        ? [
            {
              says: `Failed in ${one.vehicleName}, ${one.componentName}, on ${dateWords(one.until)}, after ${durationWords({ from: one.from, to: one.until })}`,
              href: `/entries/${one.endedBy}`,
              lookHref: `/parts/${kept.partId}/inspections/new?failed=${one.vehicleId}:${one.component}`,
            },
          ]
        : [],
    ),
    decisions: kept.decisions.map(decisionView),
    bought: purchases.map((one) => ({
      id: one.id,
      says: `${one.count} bought${one.supplier === '' ? '' : ` from ${one.supplier}`}`,
      price: one.price_minor === null ? '' : moneyWords(one.price_minor, currency),
      when: dateWords(one.boughtOn),
    })),
    byLength,
    pieces: leftovers.pieces.map((one) => ({
      id: one.id,
      field: `now-${one.id}`,
      says: `${figure(one.length_m, 'm')}${one.place === '' ? '' : `, ${one.place}`}`,
      typed: typed(`now-${one.id}`),
    })),
    left: figure(leftovers.total_m, 'm'),
    buying: {
      bought: typed('bought') || kept.today,
      pieces: typed('pieces'),
      paid: typed('paid'),
      supplier: typed('supplier'),
      length: typed('length'),
      kept: typed('kept'),
    },
    stays: form?.ticked('stays') ?? false,
    currency,
    keepingFacts: [
      ...(price === null ? [] : [{ label: 'Price of one, last', value: moneyWords(price.price_minor, currency) }]),
      ...(byLength ? [{ label: 'Left over', value: figure(leftovers.total_m, 'm') }] : []),
    ],
  }
}
