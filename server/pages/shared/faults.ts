/** Faults and refusals as a form prints them: in the summary on top, and beside their field. */
import type { Refusal } from '../../records/contract.ts'
import type { FormFault } from '../../web/form.ts'

export type ShownFault = { readonly field: string; readonly label: string; readonly says: string; readonly link: string }
type Words = (field: string) => string

export function formFaults(faults: readonly FormFault[], label: Words = words): ShownFault[] {
  return faults.map((fault) => ({ field: fault.field, label: label(fault.field), says: fault.says, link: '' }))
}

/** `field` says which field of the form a refused piece of the record was typed in; empty: none. */
export function refusalFaults(refusals: readonly Refusal[], given: { readonly field?: Words; readonly label?: Words } = {}): ShownFault[] {
  return refusals.map((refusal) => {
    const field = (given.field ?? entryField)(refusal.field ?? '')
    return {
      field,
      label: (given.label ?? words)(field),
      says: refusal.sentence,
      link: refusal.entryId ? `/entries/${refusal.entryId}` : '',
    }
  })
}

/** Fields of an entry's heading as forms call them. */
export function entryField(field: string): string {
  const same: Readonly<Record<string, string>> = { effectiveOn: 'on', odometer_km: 'odometer', cost_minor: 'cost' }
  return same[field] ?? (field.includes('.') ? '' : field)
}

function words(field: string): string {
  const plain = field.replaceAll(/[-_]/g, ' ').replace(/^./, (letter) => letter.toUpperCase())
  return plain === 'On' ? 'Date' : plain
}
