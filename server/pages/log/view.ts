import { randomUUID } from 'node:crypto'
import { compareFindings } from '../../engine/compare.ts'
import { partKind } from '../../engine/parts/index.ts'
import type { Finding } from '../../engine/report.ts'
import type { SavedEntry } from '../../records/contract.ts'
import type { Preview } from '../../records/journal.ts'
import type { StoredPart } from '../../records/parts.ts'
import type { State } from '../../records/state.ts'
import type { FormReader } from '../../web/form.ts'
import { figureOr } from '../../web/format.ts'
import type { ShownFault } from '../shared/faults.ts'
import { fates, verbs } from './form.ts'

type Option = { readonly value: string; readonly label: string; readonly chosen: boolean }
export type Tried = {
  readonly worst: string
  readonly appeared: readonly string[]
  readonly cleared: readonly string[]
  readonly changed: readonly string[]
}
export type View = {
  readonly id: string
  readonly faults: readonly ShownFault[]
  readonly wrong: Readonly<Record<string, boolean>>
  readonly verbs: readonly Option[]
  readonly components: readonly Option[]
  readonly groups: readonly { readonly label: string; readonly options: readonly Option[] }[]
  readonly fates: readonly Option[]
  readonly quantities: readonly Option[]
  readonly typed: Readonly<Record<string, string>>
  readonly tried: Tried | null
  readonly once: string
}

const fields = ['on', 'odometer', 'cost', 'title', 'text', 'name', 'length', 'value'] as const

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
  const wantedKind = kindOf(state.components.get(chosen)?.part ?? '')
  const option = (value: string, label: string, picked: string): Option => ({ value, label, chosen: value === picked })
  const components = [...state.components.values()].sort((a, b) => rank(a.key) - rank(b.key) || (a.name < b.name ? -1 : 1))
  const kinds = [...new Set(parts.map((part) => part.kind))].sort(
    (a, b) => Number(b === wantedKind) - Number(a === wantedKind) || (a < b ? -1 : 1),
  )
  const typed = Object.fromEntries(fields.map((field) => [field, form.typed(field)]))
  return {
    id: given.vehicle.id,
    faults: given.faults,
    wrong: Object.fromEntries(
      ['verb', 'component', 'part', 'fate', 'quantity', ...fields].map((field) => [
        field,
        given.faults.some((fault) => fault.field === field),
      ]),
    ),
    verbs: verbs.map((verb) => option(verb, verb, form.typed('verb') || (chosen ? 'swapped' : 'noted'))),
    components: components.map((component) => option(component.key, component.name, chosen)),
    groups: kinds.map((kind) => ({
      label: partKind(kind)?.title ?? kind,
      options: parts
        .filter((part) => part.kind === kind)
        .map((part) => option(part.id, part.inStock > 0 ? `${part.name} (${part.inStock} on the shelf)` : part.name, form.typed('part'))),
    })),
    fates: fates.map((fate) =>
      option(
        fate,
        { shelf: 'to the shelf', bin: 'to the bin', failed: 'failed', 'not said': 'not said' }[fate],
        form.typed('fate') || 'shelf',
      ),
    ),
    quantities: ['voltage', 'current', 'resistance'].map((one) =>
      option(one, `${one} (${{ voltage: 'V', current: 'A', resistance: 'Ω' }[one]})`, form.typed('quantity') || 'voltage'),
    ),
    typed: { ...typed, on: typed.on || given.today },
    tried: given.tried,
    once: form.typed('once') || randomUUID(),
  }
}

/** What saving would change among the findings. */
export function tried(seen: Preview): Tried {
  const difference = compareFindings(seen.before, seen.after)
  const first = seen.after.findings[0]
  return {
    worst:
      difference.appeared.length > 0
        ? `${difference.appeared.length} new: ${difference.appeared[0]?.says ?? ''}`
        : `Nothing would give way. ${first && first.verdict !== 'clear' ? `Worst as before: ${first.says}` : ''}`,
    appeared: difference.appeared.map(line),
    cleared: difference.cleared.map(line),
    changed: difference.changed.slice(0, 20).map(({ before, after }) => `${after.says} Before: ${figureOr(before.value, before.unit)}.`),
  }
}

function line(finding: Finding): string {
  return `${finding.verdict}: ${finding.says}`
}
