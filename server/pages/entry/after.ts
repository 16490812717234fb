/** What an entry's page offers to do next: never done unasked. */
import { randomUUID } from 'node:crypto'
import type { Offer } from '../../records/due-defaults.ts'
import type { Failure } from '../../records/fittings.ts'
import { dateWords, kilometres } from '../../web/format.ts'
import { againWords } from '../shared/due-words.ts'

export type View = {
  readonly offers: readonly {
    readonly what: string
    readonly when: string
    readonly why: string
    readonly fields: readonly { readonly name: string; readonly value: string }[]
  }[]
  readonly looks: readonly { readonly says: string; readonly href: string }[]
}

export function afterView(given: {
  readonly offers: readonly Offer[]
  readonly failures: readonly Failure[]
  readonly partName: (id: string) => string
}): View {
  return {
    offers: given.offers.map(({ change, why, grade }) => ({
      what: change.what,
      when: [
        [change.on === undefined ? '' : dateWords(change.on), change.odometer_km === undefined ? '' : kilometres(change.odometer_km)]
          .filter((one) => one !== '')
          .join(' or '),
        againWords(change),
        grade,
      ]
        .filter((one) => one !== '')
        .join(' · '),
      why,
      fields: [
        ['key', change.key],
        ['component', change.component ?? ''],
        ['what', change.what],
        ['on', change.on ?? ''],
        ['odometer', change.odometer_km === undefined ? '' : String(change.odometer_km)],
        ['every_months', change.every_months === undefined ? '' : String(change.every_months)],
        ['once', randomUUID()],
      ].map(([name = '', value = '']) => ({ name, value })),
    })),
    looks: given.failures
      .filter((one) => one.elsewhere > 0)
      .map((one) => ({
        says: `${given.partName(one.partId)} failed here. It is fitted in ${one.elsewhere} other ${one.elsewhere === 1 ? 'place' : 'places'} now.`,
        href: `/parts/${one.partId}/inspections/new?failed=${one.vehicleId}:${one.component}`,
      })),
  }
}
