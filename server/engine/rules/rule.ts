/** The shape of a rule: what it judges, what it needs, what it reads and where its limit comes from. Only check.ts compares. */
import type { Circuit, Known, SolvedCondition } from '../circuit.ts'
import type { Grade } from '../vehicle.ts'

export type Source = { readonly title: string; readonly place: string; readonly grade: 'read' | 'memory' | 'common practice' | 'computed' }

export type Reading = {
  /** null: not known; `missing` says what */
  readonly value: number | null
  readonly limit: number | null
  readonly unit: string
  /** 'at-most' (default): value must not exceed limit. 'at-least': value must not fall below it */
  readonly sense?: 'at-most' | 'at-least'
  /** share of the limit above which it is tight (default 0.8); null: no tight */
  readonly tightAbove?: number | null
  /** share of the limit above which it is over (default 1) */
  readonly overAbove?: number
  /** the worst this reading can give (good practice rules and the like) */
  readonly atMost?: 'tight'
  /** value is an "at least" figure because of these loads: over stands, everything else becomes unknown */
  readonly atLeastBecause?: readonly string[]
  readonly missing?: readonly string[]
  readonly grades: readonly Grade[]
  /** grades of what the format fills in where nothing is recorded: shown with the finding, no doubt about a rating */
  readonly defaults?: readonly Grade[]
  /** what the value is, for the sentence: "Lamp fuse carries"; check.ts adds figures, units and the condition */
  readonly subject: string
  /** said in place of the usual sentence where the finding is not a comparison */
  readonly statement?: string
  /** what the limit is, for the sentence: "rating", "ampacity" */
  readonly limitIs?: string
  /** it fails outright, with no figure to compare */
  readonly fails?: boolean
  /** it holds outright, with no figure to compare: clear, unless something is missing */
  readonly holds?: boolean
  /** over stands even where something is missing (the limit given is then the most it can be) */
  readonly overStands?: boolean
  readonly remedy?: string
  /** the figures put into the formula, in its order, for whoever asks how it was worked out */
  readonly worked?: () => readonly Worked[]
}

/** One figure that went into a formula. `value` null: not known. */
export type Worked = { readonly name: string; readonly value: number | string | null; readonly unit: string; readonly grade?: Grade }

export type Rule = {
  readonly id: string
  readonly title: string
  readonly why: string
  readonly formula: string
  /** where it turns tight and over, in words */
  readonly limits: string
  /** 'part': by the part and its place alone; 'wiring': the same whatever is on, so judged once; 'condition': judged in each */
  readonly judgedIn: 'part' | 'wiring' | 'condition'
  /** part kinds it judges */
  readonly appliesTo: readonly string[]
  readonly needs: readonly string[]
  readonly sources: readonly Source[]
  /** several where more than one thing is judged there: the worst is told. null: nothing to judge for this component in this condition */
  readonly read: (given: {
    readonly circuit: Circuit
    readonly solved: SolvedCondition
    readonly component: string
  }) => Reading | readonly Reading[] | null
  readonly remedy: string
}

export function defineRule(rule: Rule): Rule {
  return rule
}

/** A rating as one of the figures of a formula; one that is not known says so. */
export function workedRating(name: string, known: Known | null, unit: string): Worked {
  return known ? { name, value: known.value, unit, grade: known.grade } : { name, value: null, unit }
}
