import { randomUUID } from 'node:crypto'
import type { DueItem, DueList } from '../../records/due.ts'
import type { Due, State } from '../../records/state.ts'
import type { FormReader } from '../../web/form.ts'
import { dateWords, kilometres } from '../../web/format.ts'
import { dayQuery } from '../shared/day-view.ts'
import { againWords } from '../shared/due-words.ts'
import type { ShownFault } from '../shared/faults.ts'
import { type Option, option } from '../shared/options.ts'
import { pageOf } from '../shared/paging.ts'
import type { Day } from '../shared/vehicle-facts.ts'

type Row = {
  readonly what: string
  readonly href: string
  readonly vehicle: string
  readonly component: string
  readonly when: string
  readonly left: string
  readonly about: string
  readonly again: string
}
export type View = {
  /** on a vehicle's list that was come to from a page of a past day */
  readonly past: { readonly on: string; readonly href: string } | null
  readonly fault: string
  readonly unfinished: readonly { readonly what: string; readonly href: string; readonly vehicle: string; readonly since: string }[]
  readonly groups: readonly { readonly id: string; readonly title: string; readonly rows: readonly Row[] }[]
  readonly nothing: boolean
  readonly adds: readonly { readonly href: string; readonly label: string }[]
  /** instead of `adds`, where there are many vehicles */
  readonly addTo: readonly Option[]
  /** empty where all of it is on one page */
  readonly count: string
  readonly before: string
  readonly after: string
}
export type FormView = {
  readonly id: string
  readonly key: string
  readonly once: string
  readonly changes: boolean
  readonly faults: readonly ShownFault[]
  readonly typed: Readonly<Record<string, string>>
  readonly components: readonly Option[]
}

/** More vehicles than these are chosen from a list. */
const MOST_ADDS = 8
const TITLES = { overdue: 'Overdue', soon: 'Soon', later: 'Later' } as const

export function view(
  list: DueList,
  given: {
    readonly vehicles: readonly { readonly id: string; readonly name: string }[]
    /** as asked for in the address */
    readonly page: unknown
    readonly path: string
    readonly day?: Day
  },
): View {
  const { day } = given
  const { count, before, after, shown } = pageOf([...list.unfinished, ...list.items], {
    asked: given.page,
    things: ['thing', 'things'],
    address: (to) => `${given.path}${day === undefined ? `?page=${to}` : dayQuery(day, { page: String(to) })}`,
  })
  const unfinished = shown.filter((one) => 'text' in one)
  const items = shown.filter((one) => 'standing' in one)
  const isMany = given.vehicles.length > MOST_ADDS
  return {
    past: day === undefined || day.isToday ? null : { on: dateWords(day.on), href: `/vehicles/${given.vehicles[0]?.id}${dayQuery(day)}` },
    fault: day?.fault ?? '',
    unfinished: unfinished.map((one) => ({
      what: one.text,
      href: `/vehicles/${one.vehicleId}/unfinished/${one.key}`,
      vehicle: `${one.vehicleName}: ${one.componentNames.join(', ')}`,
      since: `since ${dateWords(one.since)}`,
    })),
    groups: (['overdue', 'soon', 'later'] as const)
      .map((standing) => ({
        id: standing,
        title: TITLES[standing],
        rows: items.filter((item) => item.standing === standing).map(rowOf),
      }))
      .filter((group) => group.rows.length > 0),
    nothing: list.unfinished.length === 0 && list.items.length === 0,
    adds: isMany ? [] : given.vehicles.map((one) => ({ href: `/vehicles/${one.id}/due-items/new`, label: one.name })),
    addTo: isMany ? given.vehicles.map((one) => option(one.id, one.name, '')) : [],
    count: before === '' && after === '' ? '' : count,
    before,
    after,
  }
}

function rowOf(item: DueItem): Row {
  return {
    what: item.what,
    href: `/vehicles/${item.vehicleId}/due/${item.key}`,
    vehicle: item.vehicleName,
    component: item.componentName ?? '',
    when: whenWords(item),
    left: [daysWords(item.left_days), distanceWords(item)].filter((one) => one !== '').join(', '),
    about: item.about === null ? '' : `about ${dateWords(item.about).replace(/^\d+ /, '')}`,
    again: againWords(item),
  }
}

/** "8 March 2027 or 230 000 km". */
function whenWords(due: Pick<Due, 'on' | 'odometer_km'>): string {
  const parts = [due.on === undefined ? '' : dateWords(due.on), due.odometer_km === undefined ? '' : kilometres(due.odometer_km)]
  return parts.filter((one) => one !== '').join(' or ')
}

function daysWords(left_days: number | null): string {
  if (left_days === null) return ''
  const count = Math.abs(left_days)
  if (count === 0) return 'today'
  return `${count} ${count === 1 ? 'day' : 'days'} ${left_days < 0 ? 'ago' : 'left'}`
}

function distanceWords(item: DueItem): string {
  if (item.odometer_km === undefined) return ''
  if (item.left_km === null) return 'no odometer reading yet'
  return item.left_km < 0 ? `${kilometres(-item.left_km)} ago` : `${kilometres(item.left_km)} left`
}

export function formView(given: {
  readonly vehicle: { readonly id: string }
  readonly state: State
  /** the thing to change; null for a new one */
  readonly one: Due | null
  readonly form: FormReader | null
  readonly faults: readonly ShownFault[]
}): FormView {
  const { one, form, state } = given
  const said = (value: string | number | undefined) => (value === undefined ? '' : String(value))
  const stored: Readonly<Record<string, string>> = {
    what: said(one?.what),
    on: said(one?.on),
    odometer: said(one?.odometer_km),
    every_months: said(one?.every_months),
    every_km: said(one?.every_km),
    component: said(one?.component),
  }
  const typed = Object.fromEntries(Object.entries(stored).map(([field, value]) => [field, form ? form.typed(field) : value]))
  return {
    id: given.vehicle.id,
    key: form?.typed('key') || one?.key || '',
    once: form?.typed('once') || randomUUID(),
    changes: one !== null,
    faults: given.faults,
    typed,
    components: [...state.components.values()]
      .sort((a, b) => a.name.localeCompare(b.name, 'en', { numeric: true }))
      .map((component) => option(component.key, component.name, typed.component ?? '')),
  }
}
