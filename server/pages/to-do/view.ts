import type { Due, State, Unfinished } from '../../records/state.ts'
import type { FormReader } from '../../web/form.ts'
import { dateWords } from '../../web/format.ts'
import type { ShownFault } from '../shared/faults.ts'

type Given<T> = {
  readonly vehicle: { readonly id: string }
  readonly one: T
  readonly state: State
  readonly form: FormReader
  readonly faults: readonly ShownFault[]
  readonly today: string
}
type Base = {
  readonly id: string
  readonly key: string
  readonly entryId: string
  readonly faults: readonly ShownFault[]
  readonly on: string
  readonly text: string
}
export type UnfinishedView = Base & {
  readonly what: string
  readonly since: string
  readonly places: readonly { readonly name: string; readonly chain: string; readonly log: string; readonly branch: string }[]
}
export type DueView = Base & { readonly when: string; readonly component: string; readonly href: string; readonly log: string }

export function unfinishedView(given: Given<Unfinished>): UnfinishedView {
  const { vehicle, one, state } = given
  return {
    ...base(given),
    what: one.text,
    since: dateWords(one.since),
    places: one.components.flatMap((key) => {
      const component = state.components.get(key)
      const branch = `/vehicles/${vehicle.id}/components/${key}`
      return component
        ? [
            {
              name: component.name,
              branch,
              chain: `${branch}/chain?finishes=${one.key}`,
              log: `/vehicles/${vehicle.id}/entries/new?component=${key}`,
            },
          ]
        : []
    }),
  }
}

export function dueView(given: Given<Due>): DueView {
  const { vehicle, one, state } = given
  return {
    ...base(given),
    when: [one.on === undefined ? '' : dateWords(one.on), one.odometer_km === undefined ? '' : `${one.odometer_km} km`]
      .filter((part) => part !== '')
      .join(' or at '),
    component: state.components.get(one.component ?? '')?.name ?? '',
    href: `/vehicles/${vehicle.id}/components/${one.component ?? ''}`,
    log: `/vehicles/${vehicle.id}/entries/new?verb=serviced${one.component === undefined ? '' : `&component=${one.component}`}`,
  }
}

function base({ vehicle, one, form, faults, today }: Given<Unfinished | Due>): Base {
  return { id: vehicle.id, key: one.key, entryId: one.entryId, faults, on: form.typed('on') || today, text: form.typed('text') }
}
