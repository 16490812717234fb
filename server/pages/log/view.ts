import { partKinds } from '../../engine/parts/index.ts'
import type { Change } from '../../records/contract.ts'
import type { PartChoices } from '../../records/part-choices.ts'
import type { State } from '../../records/state.ts'
import type { FormReader } from '../../web/form.ts'
import { dateWords, kilometres } from '../../web/format.ts'
import type { ShownFault } from '../shared/faults.ts'
import { type Group, type Option, option } from '../shared/options.ts'
import type { Tried } from '../shared/tried.ts'
import { type ChoicesView, choicesView } from './choices.ts'
import { fates, type Given, MOST_PHOTOS, NEW_PART, photoIds, strandedTerminals, verbs } from './form.ts'
import { lastReading } from './odometer.ts'

type StrandedView = { readonly name: string; readonly label: string; readonly options: readonly Option[] }
export type View = {
  readonly id: string
  readonly at: string
  readonly fresh: boolean
  readonly back: boolean
  readonly faults: readonly ShownFault[]
  readonly askTyped: boolean
  readonly asTyped: boolean
  readonly verbs: readonly Option[]
  readonly components: readonly Group[]
  readonly choices: ChoicesView
  readonly isNew: boolean
  readonly newKinds: readonly Option[]
  readonly newKindBlank: string
  readonly fates: readonly Option[]
  readonly quantities: readonly Option[]
  readonly stranded: readonly StrandedView[]
  readonly photos: readonly string[]
  readonly mostPhotos: number
  readonly typed: Readonly<Record<string, string>>
  readonly currency: string
  readonly odometerHint: string
  readonly tried: Tried | null
  readonly once: string
}

const fields = ['on', 'odometer', 'cost', 'title', 'text', 'name', 'length', 'value', 'again', 'q', 'new-name', 'new-figure'] as const
const MOST_LATELY = 6
const byName = new Intl.Collator('en', { numeric: true })

export function view(
  given: Given & {
    readonly form: FormReader
    readonly faults: readonly ShownFault[]
    readonly tried: Tried | null
    readonly offered: PartChoices
    readonly currency: string
    /** changes of the latest entries, newest entry first */
    readonly lately: readonly Change[]
    /** of the parts that the vehicle holds today, by their ids */
    readonly kinds: ReadonlyMap<string, string>
    /** the form's own address */
    readonly at: string
    readonly once: string
    /** nobody has typed in it yet */
    readonly fresh: boolean
    /** what was typed before signing in again */
    readonly back: boolean
  },
): View {
  const { form, state } = given
  const typed = Object.fromEntries(fields.map((field) => [field, form.typed(field)]))
  const on = typed.on || given.today
  const last = lastReading(given.readings, on)
  const nothingFitted = state.components.size === 0
  return {
    id: given.vehicle.id,
    at: given.at,
    fresh: given.fresh,
    back: given.back,
    faults: given.faults,
    askTyped: given.faults.some((fault) => fault.field === 'odometer' && fault.says.includes('tick')) || form.ticked('as-typed'),
    asTyped: form.ticked('as-typed') && form.typed('as-typed') === form.typed('odometer').trim(),
    verbs: verbs.map((verb) => option(verb, verb, form.typed('verb') || (nothingFitted ? 'fitted' : 'swapped'))),
    components: componentGroups(state, { lately: given.lately, kinds: given.kinds, chosen: form.typed('component') }),
    choices: choicesView({ ...given.offered, kind: given.kindInPlace, picked: form.typed('part'), words: form.typed('q').trim() }),
    isNew: form.typed('part') === NEW_PART,
    newKinds: partKinds.map((one) => option(one.id, one.title, form.typed('new-kind'))),
    newKindBlank: given.kindInPlace === '' ? 'choose' : 'as the one in place',
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
    stranded: strandedViews(form, given),
    photos: photoIds(form),
    mostPhotos: MOST_PHOTOS,
    typed: { ...typed, on },
    currency: given.currency,
    odometerHint: last ? `last ${kilometres(last.odometer_km)}, ${dateWords(last.on)}` : '',
    tried: given.tried,
    once: given.once,
  }
}

export function strandedViews(form: FormReader, given: Pick<Given, 'state' | 'part' | 'kindInPlace'>): readonly StrandedView[] {
  return strandedTerminals(form, given).map(({ terminal, offered }) => ({
    name: `terminal-${terminal}`,
    label: `The wire on ${terminal} went to`,
    options: offered.map((one) => option(one, `terminal ${one}`, form.typed(`terminal-${terminal}`))),
  }))
}

/** Those touched lately by themselves, newest first; the others by name, and wires, of which there are most, last. */
function componentGroups(
  state: State,
  given: { readonly lately: readonly Change[]; readonly kinds: ReadonlyMap<string, string>; readonly chosen: string },
): readonly Group[] {
  const keys = new Set<string>()
  for (const change of given.lately) {
    const key =
      change.kind === 'measured' ? change.at : 'component' in change && typeof change.component === 'string' ? change.component : ''
    if (state.components.has(key) && keys.size < MOST_LATELY) keys.add(key)
  }
  const offer = (key: string) => option(key, state.components.get(key)?.name ?? key, given.chosen)
  const others = [...state.components.values()].filter((one) => !keys.has(one.key)).sort((a, b) => byName.compare(a.name, b.name))
  const isWire = (one: { readonly part: string }) => given.kinds.get(one.part) === 'conductor'
  return [
    { label: 'Worked on lately', options: [...keys].map(offer) },
    {
      label: keys.size > 0 ? 'All others, by name' : 'By name',
      options: others.filter((one) => !isWire(one)).map((one) => offer(one.key)),
    },
    { label: 'Wires', options: others.filter(isWire).map((one) => offer(one.key)) },
  ].filter((group) => group.options.length > 0)
}

export function fieldLabel(field: string): string {
  const labels: Readonly<Record<string, string>> = {
    verb: 'What was done',
    component: 'To which component',
    part: 'Part in place now',
    'new-name': 'Name of the new part',
    'new-kind': 'Kind of the new part',
    'new-figure': 'Main rating of the new part',
    fate: 'The old part went',
    on: 'When',
    odometer: 'Odometer',
    cost: 'Cost',
    title: 'Title',
    text: 'In words',
    name: 'Name of the new component',
    length: 'Length now',
    quantity: 'Measured',
    value: 'Reading',
    again: 'Look at it again',
    photos: 'Photos',
  }
  return labels[field] ?? (field.startsWith('terminal-') ? `The wire on ${field.slice('terminal-'.length)}` : field)
}

/** A refused piece of the record as this form calls it. */
export function fieldOf(refused: string): string {
  const same: Readonly<Record<string, string>> = { effectiveOn: 'on', odometer_km: 'odometer', cost_minor: 'cost' }
  if (/^(ratings|evidence)\./.test(refused)) return 'new-figure'
  return same[refused] ?? (refused.includes('.') ? '' : refused)
}
