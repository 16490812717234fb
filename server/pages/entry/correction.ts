/** Editing an entry: its heading anew, and which of its changes stay. */
import type { NewEntry, SavedEntry } from '../../records/contract.ts'
import type { FormReader } from '../../web/form.ts'
import { money } from '../../web/format.ts'
import type { ShownFault } from '../shared/faults.ts'
import { onceKeyOf } from '../shared/once.ts'
import type { ClashRow } from './clash.ts'

export type View = {
  readonly id: string
  readonly faults: readonly ShownFault[]
  readonly typed: Readonly<Record<string, string>>
  readonly once: string
  readonly currency: string
  /** another version took its place while the form was open */
  readonly clash: readonly ClashRow[]
  readonly clashWithdrawn: boolean
  readonly changes: readonly { readonly n: number; readonly sentence: string; readonly kept: boolean }[]
}

const fields = ['on', 'title', 'text', 'odometer', 'cost'] as const

export function correctionView(given: {
  readonly entry: SavedEntry
  readonly form: FormReader | null
  readonly faults: readonly ShownFault[]
  readonly once: string
  readonly currency: string
  readonly clash?: readonly ClashRow[]
  readonly isWithdrawn?: boolean
}): View {
  const { entry, form, faults } = given
  const stored: Readonly<Record<string, string>> = {
    on: entry.effectiveOn,
    title: entry.title,
    text: entry.text,
    odometer: entry.odometer_km === null ? '' : String(entry.odometer_km),
    cost: entry.cost_minor === null ? '' : money(entry.cost_minor),
  }
  return {
    id: entry.id,
    faults,
    typed: Object.fromEntries(fields.map((field) => [field, form ? form.typed(field) : (stored[field] ?? '')])),
    once: given.once,
    currency: given.currency,
    clash: given.clash ?? [],
    clashWithdrawn: given.isWithdrawn === true,
    changes: entry.sentences.map((sentence, n) => ({ n, sentence, kept: form ? form.ticked(`keep-${n}`) : true })),
  }
}

export function readCorrection(form: FormReader, given: { readonly entry: SavedEntry; readonly today: string }): NewEntry {
  const { entry, today } = given
  const odometer_km = form.number('odometer', { min: 0, max: 9_999_999 })
  const cost = form.number('cost', { min: 0, max: 10_000_000 })
  return {
    vehicleId: entry.vehicleId,
    ...onceKeyOf(form),
    effectiveOn: form.date('on', { latest: today }),
    title: form.text('title', { max: 200, required: 'Give the entry a title.' }),
    text: form.text('text', { max: 20_000 }),
    ...(odometer_km === null ? {} : { odometer_km }),
    ...(cost === null ? {} : { cost_minor: Math.round(cost * 100) }),
    changes: entry.changes.filter((_, n) => form.ticked(`keep-${n}`)),
  }
}
