/** Shapes that the rooms above records speak: actors, entries, changes, refusals. */
import type { Component, Condition, Finding, Join, Zone } from './engine-types.ts'

/** owner: everything, people and settings too. editor: records. viewer: looks, writes nothing */
export type Role = 'owner' | 'editor' | 'viewer'
/** `role` says what the pages let a person do; where it is missing nothing that writes is let through. */
export type Actor = { readonly householdId: string; readonly personId: string; readonly name: string; readonly role?: Role }

/** The request cannot be done; nothing was stored. */
export type Refusal = {
  readonly code: string
  readonly status: number
  readonly sentence: string
  readonly field?: string
  readonly entryId?: string
}
export type Result<T> = { readonly ok: true; readonly value: T } | { readonly ok: false; readonly refusals: readonly Refusal[] }

/** Payloads of every kind of change. `component` is a key; `part` a part id. */
export type Change =
  | {
      readonly kind: 'described'
      readonly vehicle?: Record<string, unknown>
      readonly zone?: Zone
      readonly condition?: Condition
      readonly component?: { readonly key: string } & Partial<Component>
      /** what is no longer so of that component, and of which nothing is known instead */
      readonly cleared?: readonly Mark[]
    }
  | { readonly kind: 'fitted'; readonly component: Component }
  | { readonly kind: 'removed'; readonly component: string; readonly fate: Fate }
  | {
      readonly kind: 'swapped'
      readonly component: string
      readonly part: string
      readonly fate: Fate
      readonly terminals?: Readonly<Record<string, string>>
    }
  | ({ readonly kind: 'joined' } & Join)
  | { readonly kind: 'unjoined'; readonly from: string; readonly to: string }
  | { readonly kind: 'rerouted'; readonly component: string; readonly length_m?: number; readonly zone?: string; readonly bundle?: number }
  | { readonly kind: 'renamed'; readonly component: string; readonly name: string }
  | {
      readonly kind: 'measured'
      readonly at: string
      readonly quantity: 'voltage' | 'current' | 'resistance'
      readonly value: number
      readonly condition?: string
    }
  | { readonly kind: 'serviced'; readonly component?: string; readonly text: string }
  | { readonly kind: 'noted'; readonly component?: string; readonly text: string }
  | { readonly kind: 'unfinished'; readonly key: string; readonly components: readonly string[]; readonly text: string }
  | { readonly kind: 'finished'; readonly key: string }
  | {
      readonly kind: 'due-set'
      readonly key: string
      readonly component?: string
      readonly what: string
      readonly on?: string
      readonly odometer_km?: number
      /** once done it is due again so long, or so far, after that */
      readonly every_months?: number
      readonly every_km?: number
    }
  | { readonly kind: 'due-done'; readonly key: string }
  | { readonly kind: 'left'; readonly how: 'sold' | 'given away' | 'scrapped'; readonly to?: string }
  | { readonly kind: 'due-dropped'; readonly key: string }
  | {
      readonly kind: 'decided'
      readonly component?: string
      /** a part id */
      readonly chosen?: string
      readonly considered: readonly Considered[]
      readonly why: string
    }

/** A part, or a thing in words where it is on no shelf; `whyNot` may be blank. */
export type Considered = { readonly part: string; readonly whyNot: string } | { readonly words: string; readonly whyNot: string }

/** What stands on a conductor, for people. */
export type Mark = 'colour' | 'stripe' | 'number' | 'fittings'

/** What became of the old part. */
export type Fate = 'shelf' | 'bin' | 'failed' | 'not said'

export type NewEntry = {
  readonly vehicleId: string
  /** YYYY-MM-DD: when it was true in the world */
  readonly effectiveOn: string
  readonly title: string
  readonly text?: string | undefined
  readonly odometer_km?: number | undefined
  readonly cost_minor?: number | undefined
  readonly changes: readonly Change[]
  /** the same key twice makes one entry and the same answer */
  readonly onceKey?: string | undefined
  /** it writes down what was there already: nothing was taken from the shelf for it */
  readonly asFound?: boolean | undefined
}

export type SavedEntry = {
  readonly id: string
  readonly vehicleId: string
  readonly effectiveOn: string
  /** ISO 8601 UTC instant */
  readonly recordedAt: string
  readonly title: string
  readonly text: string
  readonly odometer_km: number | null
  readonly cost_minor: number | null
  readonly author: string
  readonly changes: readonly Change[]
  readonly sentences: readonly string[]
  /** withdrawn (undone or deleted) by a later correction */
  readonly withdrawn: boolean
  /** as shown when it was saved: findings not clear, the tightest clear one, version of the check */
  readonly shown: Shown | null
}

export type Shown = {
  readonly version: string
  readonly findings: readonly Finding[]
  readonly tightestClear: Finding | null
  /** against the state before this entry */
  readonly appeared: readonly Finding[]
  readonly cleared: readonly Finding[]
  readonly changed: readonly { readonly before: Finding; readonly after: Finding }[]
}
