import { randomUUID } from 'node:crypto'
import type { SavedEntry } from '../../records/contract.ts'
import type { StoredPart } from '../../records/parts.ts'
import type { State } from '../../records/state.ts'
import type { FormReader } from '../../web/form.ts'
import type { ShownFault } from '../shared/faults.ts'
import { type Group, type Option, option, partGroups } from '../shared/options.ts'
import type { Tried } from '../shared/tried.ts'
import { fates, strandedTerminals, verbs } from './form.ts'

type StrandedView = { readonly name: string; readonly label: string; readonly options: readonly Option[] }
export type View = {
  readonly id: string
  readonly faults: readonly ShownFault[]
  readonly askLower: boolean
  readonly lower: boolean
  readonly verbs: readonly Option[]
  readonly components: readonly Option[]
  readonly groups: readonly Group[]
  readonly fates: readonly Option[]
  readonly quantities: readonly Option[]
  readonly stranded: readonly StrandedView[]
  readonly typed: Readonly<Record<string, string>>
  readonly odometerHint: string
  readonly tried: Tried | null
  readonly once: string
}

const fields = ['on', 'odometer', 'cost', 'title', 'text', 'name', 'length', 'value', 'again'] as const

export function view(given: {
  readonly vehicle: { readonly id: string; readonly odometer_km: number | null }
  readonly state: State
  readonly parts: readonly StoredPart[]
  readonly recent: readonly SavedEntry[]
  readonly today: string
  readonly form: FormReader
  readonly faults: readonly ShownFault[]
  readonly tried: Tried | null
}): View {
  const { form, state, parts, recent } = given
  const lately = recent.flatMap((entry) =>
    entry.changes.flatMap((change) => ('component' in change && typeof change.component === 'string' ? [change.component] : [])),
  )
  const rank = (key: string) => (lately.includes(key) ? lately.indexOf(key) : 1000)
  const chosen = form.typed('component')
  const kindOf = (part: string) => parts.find((one) => one.id === part)?.kind ?? ''
  const components = [...state.components.values()].sort((a, b) => rank(a.key) - rank(b.key) || (a.name < b.name ? -1 : 1))
  const typed = Object.fromEntries(fields.map((field) => [field, form.typed(field)]))
  return {
    id: given.vehicle.id,
    faults: given.faults,
    askLower: given.faults.some((fault) => fault.field === 'odometer' && fault.says.includes('tick')) || form.ticked('lower'),
    lower: form.ticked('lower'),
    verbs: verbs.map((verb) => option(verb, verb, form.typed('verb') || (chosen ? 'swapped' : 'noted'))),
    components: components.map((component) => option(component.key, component.name, chosen)),
    groups: partGroups(parts, { picked: form.typed('part'), wantedKind: kindOf(state.components.get(chosen)?.part ?? '') }),
    fates: fates.map((fate) =>
      option(
        fate,
        { shelf: 'to the shelf', bin: 'to the bin', failed: 'failed', 'not said': 'not said' }[fate],
        form.typed('fate') || 'shelf',
      ),
    ),
    quantities: ['voltage', 'current', 'resistance'].map((one) =>
      option(one, `${one}, ${{ voltage: 'V', current: 'A', resistance: 'Ω' }[one]}`, form.typed('quantity') || 'voltage'),
    ),
    stranded: strandedViews(form, { state, parts }),
    typed: { ...typed, on: typed.on || given.today },
    odometerHint: given.vehicle.odometer_km === null ? '' : `last ${given.vehicle.odometer_km}`,
    tried: given.tried,
    once: form.typed('once') || randomUUID(),
  }
}

export function strandedViews(
  form: FormReader,
  given: { readonly state: State; readonly parts: readonly StoredPart[] },
): readonly StrandedView[] {
  return strandedTerminals(form, given).map(({ terminal, offered }) => ({
    name: `terminal-${terminal}`,
    label: `The wire on ${terminal} went to`,
    options: offered.map((one) => option(one, `terminal ${one}`, form.typed(`terminal-${terminal}`))),
  }))
}

export function fieldLabel(field: string): string {
  const labels: Readonly<Record<string, string>> = {
    verb: 'What was done',
    component: 'To which component',
    part: 'Part in place now',
    fate: 'The old part went',
    on: 'When',
    odometer: 'Odometer',
    cost: 'Cost',
    title: 'Title',
    text: 'In words',
    name: 'Name of the new component',
    length: 'Length now',
    value: 'Reading',
    again: 'Look at it again',
  }
  return labels[field] ?? (field.startsWith('terminal-') ? `The wire on ${field.slice('terminal-'.length)}` : field)
}
