import type { Fitting } from '../../records/fittings.ts'
import type { FormReader } from '../../web/form.ts'
import { dateWords } from '../../web/format.ts'
import type { ShownFault } from '../shared/faults.ts'

export type View = {
  readonly id: string
  readonly faults: readonly ShownFault[]
  readonly once: string
  readonly what: string
  readonly by: string
  readonly places: readonly { readonly field: string; readonly words: string; readonly note: string; readonly ticked: boolean }[]
}

export function fieldOf(place: { readonly vehicleId: string; readonly component: string }): string {
  return `look-${place.vehicleId}-${place.component}`
}

/** Every place is ticked but the one where it failed, and those that stand on the list already. */
export function view(given: {
  readonly part: { readonly id: string; readonly name: string }
  readonly places: readonly (Fitting & { readonly listed: boolean })[]
  /** `failed` is vehicle:component */
  readonly usual: { readonly once: string; readonly by: string; readonly failed: string }
  readonly form: FormReader | null
  readonly faults: readonly ShownFault[]
}): View {
  const { part, usual, form } = given
  return {
    id: part.id,
    faults: given.faults,
    once: form?.typed('once') || usual.once,
    what: form ? form.typed('what') : `Look at the ${part.name}: one like it has failed`.slice(0, 500),
    by: form ? form.typed('by') : usual.by,
    places: given.places.map((one) => {
      const isFailed = `${one.vehicleId}:${one.component}` === usual.failed
      const field = fieldOf(one)
      return {
        field,
        words: `${one.vehicleName}: ${one.componentName}`,
        note: one.listed ? 'on the list already' : isFailed ? 'where it failed' : `since ${dateWords(one.from)}`,
        ticked: form ? form.ticked(field) : !one.listed && !isFailed,
      }
    }),
  }
}
