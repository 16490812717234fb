/** What a rule says of itself, as its own page and the pages of its findings print it. */
import { fieldsOf, partKind, partKinds } from '../../engine/parts/index.ts'
import { rules } from '../../engine/rules/index.ts'
import type { Rule, Source } from '../../engine/rules/rule.ts'

export type SourceView = { readonly title: string; readonly place: string; readonly grade: string }
export type NeedView = { readonly words: string; readonly names: string }

export function ruleOf(id: string): Rule | undefined {
  return rules.find((one) => one.id === id)
}

export function ruleHref(id: string): string {
  return `/rules/${id}`
}

export function sourceViews(rule: Rule): readonly SourceView[] {
  return rule.sources.map((source) => ({ title: source.title, place: source.place, grade: GRADES[source.grade] }))
}

const GRADES: Readonly<Record<Source['grade'], string>> = {
  read: 'read in this source',
  memory: 'from memory, not confirmed against the standard',
  'common practice': 'common practice, not confirmed against the standard',
  computed: 'worked out from it',
}

/** "Load, Pump". */
export function kindWords(rule: Rule): string {
  return rule.appliesTo.length === 0 ? 'no one kind of part' : rule.appliesTo.map(kindTitle).join(', ')
}

export function kindTitle(kind: string): string {
  return partKind(kind)?.title ?? kind
}

/** A rule that judges no kind itself judges what the others found, each with its own condition. */
export function judgedWords(rule: Rule): string {
  if (rule.appliesTo.length === 0) return 'after the others, from what they found'
  return rule.judgedIn === 'condition' ? 'in each condition, the worst one shown' : 'once, the same whatever is on'
}

/** What the rule needs, fields by the label their forms show; beside it the names that its formula may use. */
export function needViews(rule: Rule): readonly NeedView[] {
  return rule.needs.map((need) => {
    const names = [...need.matchAll(FIELD)].map((found) => found[0]).filter((name) => labelOf(name, rule) !== null)
    const words = need.replaceAll(FIELD, (name) => labelOf(name, rule) ?? name)
    return { words: capital(words), names: names.join(', ') }
  })
}

export function capital(words: string): string {
  return words.charAt(0).toUpperCase() + words.slice(1)
}

/** A field's name with its unit: `rated_A`. */
const FIELD = /\b[a-z]\w*_[A-Za-z]\w*\b/g

/** The label of a field in the kinds the rule judges, else in any kind; null where kinds differ about it or none has it. */
function labelOf(name: string, rule: Rule): string | null {
  const within = (kinds: readonly string[]) => [
    ...new Set(kinds.flatMap((kind) => fieldsOf(kind).filter((field) => field.name === name)).map((field) => field.label)),
  ]
  const own = within(rule.appliesTo)
  const labels = own.length > 0 ? own : within(partKinds.map((kind) => kind.id))
  return labels.length === 1 ? (labels[0] as string) : null
}
