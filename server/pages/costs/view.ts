import type { Costs } from '../../records/costs.ts'
import type { FormReader } from '../../web/form.ts'
import { money } from '../../web/format.ts'
import type { ShownFault } from '../shared/faults.ts'
import { pageOf } from '../shared/paging.ts'

type Row = {
  readonly year: string
  readonly cells: readonly { readonly vehicle: string; readonly sum: string }[]
  readonly sum: string
  readonly bought: string
}
export type View = {
  readonly faults: readonly ShownFault[]
  readonly currency: string
  readonly unit: string
  readonly vehicles: readonly { readonly id: string; readonly name: string }[]
  readonly rows: readonly Row[]
  readonly totals: Omit<Row, 'year'>
  readonly anyBought: boolean
  /** which of the vehicles have a column here; empty where all have */
  readonly count: string
  readonly before: string
  readonly after: string
}

/** More columns than these are read on the next page; sums are over all vehicles on every page. */
const MOST_COLUMNS = 12

export function view(given: {
  readonly costs: Costs
  readonly vehicles: readonly { readonly id: string; readonly name: string }[]
  readonly currency: string
  readonly page: unknown
  readonly form: FormReader | null
  readonly faults: readonly ShownFault[]
}): View {
  const { costs } = given
  const all = given.vehicles
  const paged = pageOf(all.length > MOST_COLUMNS ? all.filter(({ id }) => costs.byVehicle.has(id)) : all, {
    ...{ asked: given.page, perPage: MOST_COLUMNS, things: ['vehicle with costs', 'vehicles with costs'] as const },
    address: (to) => `/costs?page=${to}`,
  })
  const { before, after } = paged
  const vehicles = paged.shown.map(({ id, name }) => ({ id, name }))
  const costOf = (id: string, year: string) => costs.byVehicle.get(id)?.get(year)
  const of = (id: string) => costs.years.map((year) => costOf(id, year))
  return {
    faults: given.faults,
    currency: given.form ? given.form.typed('currency') : given.currency,
    unit: given.currency,
    vehicles,
    rows: costs.years.map((year) => ({
      year,
      cells: vehicles.map(({ id, name }) => ({ vehicle: name, sum: said([costOf(id, year)]) })),
      sum: said(all.map(({ id }) => costOf(id, year))),
      bought: said([costs.bought.get(year)]),
    })),
    totals: {
      cells: vehicles.map(({ id, name }) => ({ vehicle: name, sum: said(of(id)) })),
      sum: said(all.flatMap(({ id }) => of(id))),
      bought: said([...costs.bought.values()]),
    },
    anyBought: costs.bought.size > 0,
    count: before === '' && after === '' ? '' : paged.count,
    before,
    after,
  }
}

/** The sum of what was said; a dash where nothing was, which is not nothing spent. */
function said(costs: readonly (number | undefined)[]): string {
  const known = costs.filter((one) => one !== undefined)
  return known.length === 0 ? '–' : money(known.reduce((sum, one) => sum + one, 0))
}
