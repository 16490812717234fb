/** The shape of a change kind: one file holds its payload's schema, its fold step and its sentence. */
import type { z } from 'zod'
import type { State } from '../state.ts'

export type Conflict = { readonly sentence: string; readonly component?: string }

/** What a fold step may know besides the state; a part's kind never changes, so the fold stays pure. */
export type Given = {
  readonly entryId: string
  readonly effectiveOn: string
  readonly odometer_km: number | null
  readonly kindOfPart: (part: string) => string | undefined
}

export type ChangeKind<Payload = unknown> = {
  readonly kind: string
  /** version of the payload; older ones are upgraded as they are read */
  readonly v: number
  readonly payload: z.ZodType<Payload>
  /** where it applies it leaves the state the very one it was: who folds what is known to apply may leave it out */
  readonly isWord?: true
  /** the next state, or a conflict; never skips */
  readonly apply: (state: State, payload: Payload, given: Given) => State | Conflict
  /** one plain past-tense sentence; `name` gives a component's or part's name */
  readonly sentence: (
    payload: Payload,
    name: { readonly component: (key: string) => string; readonly part: (id: string) => string },
  ) => string
}

export function defineChangeKind<Payload>(kind: ChangeKind<Payload>): ChangeKind<Payload> {
  return kind
}
