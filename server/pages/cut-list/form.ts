/** What a cut list is asked for: which harness, and how much longer than recorded each piece is cut. */
import type { FormFault, FormReader } from '../../web/form.ts'
import { type Allowance, allowanceFrom } from '../shared/cut-lines.ts'

export type Asked = {
  /** a harness by its key; empty: all of them */
  readonly harness: string
  readonly allowance: Allowance
  readonly typed: { readonly end: string; readonly share: string }
  readonly faults: readonly FormFault[]
}

export function askedFrom(form: FormReader, harnesses: readonly string[]): Asked {
  const harness = form.choice('harness', harnesses, '')
  return { harness, ...allowanceFrom(form), faults: form.faults }
}
