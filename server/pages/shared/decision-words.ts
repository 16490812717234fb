/** A decision as the pages of its part and its component print it. */
import type { Decision } from '../../records/decisions.ts'
import { dateWords } from '../../web/format.ts'

export type DecisionView = {
  readonly says: string
  readonly why: string
  readonly others: readonly { readonly name: string; readonly href: string; readonly whyNot: string }[]
  readonly when: string
  readonly href: string
}

export function decisionView(decision: Decision): DecisionView {
  const place = [decision.componentName, decision.vehicleName].filter((one) => one !== null).join(', ')
  const over = decision.considered.length > 0 ? `, chosen over ${decision.considered.map((one) => one.name).join(', ')}` : ''
  return {
    says: `${decision.chosen?.name ?? 'Nothing chosen'} for ${place}${over}`,
    why: decision.why,
    others: decision.considered
      .filter((one) => one.whyNot !== '')
      .map((one) => ({ name: one.name, href: one.partId === null ? '' : `/parts/${one.partId}`, whyNot: one.whyNot })),
    when: dateWords(decision.on),
    href: `/entries/${decision.entryId}`,
  }
}
