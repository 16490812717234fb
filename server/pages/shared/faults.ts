/** Faults and refusals as the summary on top of a form prints them. */
import type { Refusal } from '../../records/contract.ts'
import type { FormFault } from '../../web/form.ts'

export type ShownFault = { readonly field: string; readonly label: string; readonly says: string; readonly link: string }

export function formFaults(faults: readonly FormFault[]): ShownFault[] {
  return faults.map((fault) => ({ field: fault.field, label: words(fault.field), says: fault.says, link: '' }))
}

export function refusalFaults(refusals: readonly Refusal[]): ShownFault[] {
  return refusals.map((refusal) => ({
    field: refusal.field ?? '',
    label: words(refusal.field ?? ''),
    says: refusal.sentence,
    link: refusal.entryId ? `/entries/${refusal.entryId}` : '',
  }))
}

function words(field: string): string {
  const plain = field.replaceAll(/[-_]/g, ' ').replace(/^./, (letter) => letter.toUpperCase())
  return plain === 'On' ? 'Date' : plain
}
