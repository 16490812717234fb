import type { Held } from '../../records/archive-write.ts'
import type { VehicleFacts } from '../../records/vehicles.ts'
import type { FormReader } from '../../web/form.ts'
import type { ShownFault } from '../shared/faults.ts'
import { type Option, option } from '../shared/options.ts'

export type View = {
  readonly faults: readonly ShownFault[]
  readonly done: string
  /** how much of what there is */
  readonly held: string
  readonly vehicles: readonly { readonly id: string; readonly name: string; readonly entries: string }[]
}

export function view(given: {
  readonly held: Held
  readonly vehicles: readonly VehicleFacts[]
  readonly faults: readonly ShownFault[]
  readonly done: string
}): View {
  return {
    faults: given.faults,
    done: given.done,
    held: heldWords(given.held),
    vehicles: given.vehicles.map(({ id, name, entryCount }) => ({
      id,
      name,
      entries: `${entryCount} ${entryCount === 1 ? 'entry' : 'entries'}`,
    })),
  }
}

function heldWords({ vehicles, entries, parts, photos, photos_bytes }: Held): string {
  const count = (number: number, one: string, more: string) => `${number} ${number === 1 ? one : more}`
  const size = photos === 0 ? '' : ` (${(photos_bytes / 1e6).toFixed(1)} MB)`
  return [
    count(vehicles, 'vehicle', 'vehicles'),
    count(entries, 'entry', 'entries'),
    count(parts, 'part', 'parts'),
    `${count(photos, 'photo or paper', 'photos and papers')}${size}`,
  ].join(', ')
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
