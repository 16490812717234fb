/** What a cut list is asked for: which harness, and how much longer than recorded each piece is cut. */
import type { FormFault, FormReader } from '../../web/form.ts'
import type { Allowance } from './lines.ts'

export type Asked = {
  /** a harness by its key; empty: all of them */
  readonly harness: string
  readonly allowance: Allowance
  readonly typed: { readonly end: string; readonly share: string }
  readonly faults: readonly FormFault[]
}

/** Two fingers' breadth at each end and a twentieth on top (common practice of the trade). */
export const USUAL: Allowance = { end_mm: 30, share_percent: 5 }

export function askedFrom(form: FormReader, harnesses: readonly string[]): Asked {
  const harness = form.choice('harness', harnesses, '')
  const end_mm = form.number('end', { min: 0, max: 1000 }) ?? USUAL.end_mm
  const share_percent = form.number('share', { min: 0, max: 100 }) ?? USUAL.share_percent
  const faulty = new Set(form.faults.map((fault) => fault.field))
  return {
    harness,
    allowance: { end_mm, share_percent },
    typed: {
      end: faulty.has('end') ? form.typed('end') : String(end_mm),
      share: faulty.has('share') ? form.typed('share') : String(share_percent),
    },
    faults: form.faults,
  }
}
