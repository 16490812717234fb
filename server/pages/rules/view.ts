import { partKinds } from '../../engine/parts/index.ts'
import type { Rule } from '../../engine/rules/rule.ts'
import { judgedWords, kindWords, type NeedView, needViews, ruleHref, type SourceView, sourceViews } from '../shared/rule-words.ts'

type Link = { readonly title: string; readonly href: string }
export type ListView = {
  readonly lead: string
  readonly rules: readonly (Link & { readonly why: string; readonly kinds: string })[]
  readonly kinds: readonly { readonly title: string; readonly rules: readonly Link[] }[]
}
export type View = {
  readonly why: string
  readonly facts: readonly { readonly label: string; readonly value: string }[]
  readonly formula: string
  readonly limits: string
  readonly needs: readonly NeedView[]
  readonly noNeeds: string
  readonly remedy: string
  readonly sources: readonly SourceView[]
}

export function listView(rules: readonly Rule[]): ListView {
  return {
    lead: `The check judges every component by these ${rules.length} rules. Each says why, where its limit comes from and how well that is known.`,
    rules: rules.map((rule) => ({ ...linkOf(rule), why: rule.why, kinds: kindWords(rule) })),
    kinds: partKinds
      .map((kind) => ({ title: kind.title, rules: rules.filter((rule) => rule.appliesTo.includes(kind.id)).map(linkOf) }))
      .filter((kind) => kind.rules.length > 0),
  }
}

export function view(rule: Rule): View {
  return {
    why: rule.why,
    facts: [
      { label: 'Judges', value: kindWords(rule) },
      { label: 'Judged', value: judgedWords(rule) },
    ],
    formula: rule.formula,
    limits: rule.limits,
    needs: needViews(rule),
    noNeeds: rule.needs.length === 0 ? 'No figure of its own.' : '',
    remedy: rule.remedy,
    sources: sourceViews(rule),
  }
}

function linkOf(rule: Rule): Link {
  return { title: rule.title, href: ruleHref(rule.id) }
}
