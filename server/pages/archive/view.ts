import type { VehicleFacts } from '../../records/vehicles.ts'
import type { FormReader } from '../../web/form.ts'
import type { ShownFault } from '../shared/faults.ts'
import { type Option, option } from '../shared/options.ts'

export type View = {
  readonly faults: readonly ShownFault[]
  readonly done: string
  readonly vehicles: readonly { readonly id: string; readonly name: string; readonly entries: string }[]
}

export function view(given: {
  readonly vehicles: readonly VehicleFacts[]
  readonly faults: readonly ShownFault[]
  readonly done: string
}): View {
  return {
    faults: given.faults,
    done: given.done,
    vehicles: given.vehicles.map(({ id, name, entryCount }) => ({
      id,
      name,
      entries: `${entryCount} ${entryCount === 1 ? 'entry' : 'entries'}`,
    })),
  }
}

export type LeftView = {
  readonly id: string
  readonly faults: readonly ShownFault[]
  readonly how: readonly Option[]
  readonly on: string
  readonly to: string
  readonly once: string
}

export function leftView(given: {
  readonly id: string
  readonly form: FormReader
  readonly faults: readonly ShownFault[]
  readonly today: string
  readonly once: string
}): LeftView {
  const { form } = given
  return {
    id: given.id,
    faults: given.faults,
    how: ['sold', 'given away', 'scrapped'].map((how) => option(how, how, form.typed('how') || 'sold')),
    on: form.typed('on') || given.today,
    to: form.typed('to'),
    once: given.once,
  }
}
