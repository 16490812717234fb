import { randomUUID } from 'node:crypto'
import type { StoredPart } from '../../records/parts.ts'
import type { State } from '../../records/state.ts'
import type { FormReader } from '../../web/form.ts'
import type { ShownFault } from '../shared/faults.ts'
import { type Group, type Option, option, partGroups } from '../shared/options.ts'
import { IN_WORDS } from './form.ts'

export type View = {
  readonly faults: readonly ShownFault[]
  readonly vehicle: { readonly id: string; readonly name: string } | null
  readonly vehicles: readonly Option[]
  /** what was asked for, kept while the vehicle is chosen */
  readonly kept: readonly { readonly name: string; readonly value: string }[]
  readonly once: string
  readonly considered: string
  readonly chosen: readonly Group[]
  readonly components: readonly Option[]
  readonly others: readonly { readonly field: string; readonly label: string; readonly value: string }[]
  readonly inWords: readonly { readonly field: string; readonly value: string; readonly notField: string; readonly notValue: string }[]
  readonly why: string
  readonly on: string
}

export function view(given: {
  readonly vehicle: { readonly id: string; readonly name: string } | null
  readonly vehicles: readonly { readonly id: string; readonly name: string }[]
  readonly state: State | null
  readonly parts: readonly StoredPart[]
  /** part ids that stood side by side */
  readonly considered: readonly string[]
  readonly form: FormReader
  readonly faults: readonly ShownFault[]
  readonly today: string
}): View {
  const { form, parts, considered } = given
  const chosen = form.typed('chosen')
  const kind = parts.find((part) => part.id === (chosen || considered[0]))?.kind ?? ''
  const component = form.typed('component')
  return {
    faults: given.faults,
    vehicle: given.vehicle,
    vehicles: given.vehicles.map((one) => option(one.id, one.name, given.vehicle?.id ?? '')),
    kept: [
      ...considered.map((value) => ({ name: 'part', value })),
      ...['chosen', 'component'].map((name) => ({ name, value: form.typed(name) })).filter((one) => one.value !== ''),
    ],
    once: form.typed('once') || randomUUID(),
    considered: considered.join(' '),
    chosen: partGroups(parts, { picked: chosen, wantedKind: kind }),
    components: [...(given.state?.components.values() ?? [])]
      .sort((a, b) => a.name.localeCompare(b.name, 'en', { numeric: true }))
      .map((one) => option(one.key, one.name, component)),
    others: parts
      .filter((part) => part.id !== chosen && considered.includes(part.id))
      .map((part) => ({ field: `not-${part.id}`, label: `Why not ${part.name}`, value: form.typed(`not-${part.id}`) })),
    inWords: Array.from({ length: IN_WORDS }, (_, n) => ({
      field: `words-${n}`,
      value: form.typed(`words-${n}`),
      notField: `words-not-${n}`,
      notValue: form.typed(`words-not-${n}`),
    })),
    why: form.typed('why'),
    on: form.typed('on') || given.today,
  }
}
