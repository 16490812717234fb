/** What the check answers, as plain readonly types. Numbers that are infinite or not computed are null. */
import type { Grade } from './vehicle.ts'

export type Verdict = 'over' | 'tight' | 'unknown' | 'clear'

export type Finding = {
  readonly rule: string
  readonly component: string
  readonly condition: string
  readonly verdict: Verdict
  readonly value: number | null
  readonly limit: number | null
  readonly unit: string
  /** share of the limit used: 1 at the limit; for an at-least limit, limit ÷ value */
  readonly used: number | null
  /** thresholds of this finding as shares of the limit, for the scale's marks (tight above, over above) */
  readonly tightAbove: number | null
  readonly overAbove: number | null
  readonly says: string
  readonly remedy: string
  /** what is missing, as `component.rating` or a plain word; empty unless the verdict is unknown or a value is "at least" */
  readonly missing: readonly string[]
  readonly evidence: Grade
  readonly sources: readonly string[]
}

export type ComponentReport = {
  readonly current_A: number | null
  readonly drop_V: number | null
  readonly temperature_degC: number | null
  /** true where loads of unknown current lie behind: current_A is then an "at least" figure */
  readonly atLeast: boolean
  /** the most the branch's own protection lets through; shown, never judged */
  readonly atMost_A: number | null
}

export type ConditionReport = {
  readonly key: string
  readonly name: string
  readonly solved: boolean
  /** why it could not be solved or is a fault of the condition, in plain sentences */
  readonly faults: readonly string[]
  readonly unfed: readonly string[]
  readonly terminals_V: Readonly<Record<string, number | null>>
  readonly components: Readonly<Record<string, ComponentReport>>
}

export type Report = {
  readonly format: 'loombook-report/1'
  readonly asOf: string | null
  readonly version: string
  readonly conditions: readonly ConditionReport[]
  readonly findings: readonly Finding[]
}

/** What a person asks of one component: how much it carries, for whom, what is left and what gives way first. */
export type BranchFacts = {
  readonly component: string
  /** the condition in which it carries most */
  readonly condition: string
  readonly current_A: number | null
  /** who the current is for; `load` null is what sources exchange between themselves; sums to current_A */
  readonly shares: readonly { readonly load: string | null; readonly current_A: number; readonly unknown: boolean }[]
  readonly headroom: {
    /** null: not known (see `because`) or nothing limits it */
    readonly current_A: number | null
    readonly rule: string | null
    readonly limitedBy: string | null
    readonly condition: string | null
    readonly because: readonly string[]
  }
  /** component keys from a source down to this one, and back from it to the source */
  readonly feedPath: readonly string[]
  readonly returnPath: readonly string[]
  /** loads behind it, feed or return side */
  readonly loads: readonly string[]
}

/** One row of the feed ledger: depth-first in the order the current flows, a conductor sharing the row of what it leads to. */
export type FeedRow = {
  readonly component: string
  /** conductors passed on the way from the parent row to this one, in order */
  readonly through: readonly string[]
  readonly depth: number
  readonly parent: string | null
  readonly current_A: number | null
  readonly atLeast: boolean
  /** names of other feeds in a mesh */
  readonly alsoFedThrough: readonly string[]
}
