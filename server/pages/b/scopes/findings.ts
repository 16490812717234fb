/** What the check found, with its arithmetic; what it could not judge is counted, and is no pass. */
import type { SolvedCircuit } from '../../../engine/circuit-of.ts'
import type { Finding, Report } from '../../../engine/report.ts'
import { figuresBehind } from '../../../engine/rules/explain.ts'
import { judgedFor, maskFor } from '../../../records/build-page.ts'
import { solvedOf, withRemedies } from '../../../records/solved.ts'
import { figuresOf, isInked, mostUsed, ruleTitle, verdictsOf, worstWords } from '../../shared/finding-view.ts'
import { pageOf } from '../../shared/paging.ts'
import { ruleOf } from '../../shared/rule-words.ts'
import { type ScaleView, scaleView } from '../../shared/scale.ts'
import { EVIDENCE, type ResultRow, readingsOf, resultOf, rowOf, type WorkedRow } from '../../shared/worked-words.ts'
import { defineScope } from '../scope.ts'

type Worked = {
  readonly verdict: string
  readonly name: string
  readonly title: string
  readonly figures: string
  readonly inked: boolean
  readonly scale: ScaleView | null
  readonly says: string
  readonly remedy: string
  readonly evidence: string
  readonly formula: string
  readonly rows: readonly WorkedRow[]
  readonly result: readonly ResultRow[]
  readonly source: string
}
export type View = {
  readonly lead: string
  readonly failing: readonly Worked[]
  readonly count: string
  readonly earlier: { readonly href: string }
  readonly later: { readonly href: string }
  readonly unknowns: readonly { readonly title: string; readonly count: string; readonly because: string; readonly on: string }[]
  readonly clear: readonly { readonly title: string; readonly count: string; readonly tightest: string }[]
}

const PER_PAGE = 12
const MOST_NAMED = 6

export const findings = defineScope({
  id: 'findings',
  title: 'Findings',
  says: 'what the check finds over or tight, with its arithmetic, and what it cannot judge',
  presets: ['buyer', 'workshop'],
  template: '/b/findings',
  view({ db, share, link, query }): View {
    const judged = judgedFor(db, share)
    const isFailing = (one: Finding) => one.verdict === 'over' || one.verdict === 'tight'
    const { shown, count, before, after } = pageOf(judged.report.findings.filter(isFailing), {
      asked: query.page,
      things: ['finding', 'findings'],
      address: (page) => link('findings', { page: String(page) }),
      perPage: PER_PAGE,
    })
    const { report } = withRemedies(judged, (one) => shown.some((other) => other.rule === one.rule && other.component === one.component))
    const names = new Map(judged.document.components.map((one) => [one.key, one.name]))
    const { words } = maskFor(db, share)
    const given = { circuit: solvedOf(judged.document), report, name: (key: string) => names.get(key) ?? 'a component', words }
    return {
      lead: worstWords(verdictsOf(report)),
      failing: shown.map((one) =>
        workedOf(report.findings.find((other) => other.rule === one.rule && other.component === one.component) ?? one, given),
      ),
      count,
      earlier: { href: before },
      later: { href: after },
      unknowns: byRule(report, 'unknown').map(({ rule, found }) => ({
        title: ruleTitle(rule),
        count: `${found.length} not known`,
        because: [...new Set(found.flatMap((one) => one.missing))]
          .slice(0, 3)
          .map((one) => words(inWords(one, names)))
          .join('; '),
        on: `${found
          .slice(0, MOST_NAMED)
          .map((one) => given.name(one.component))
          .join(', ')}${found.length > MOST_NAMED ? ` and ${found.length - MOST_NAMED} more` : ''}`,
      })),
      clear: byRule(report, 'clear').map(({ rule, found }) => ({
        title: ruleTitle(rule),
        count: String(found.length),
        tightest: tightestOf(found, given.name),
      })),
    }
  },
})

function workedOf(
  finding: Finding,
  given: {
    readonly circuit: SolvedCircuit
    readonly report: Report
    readonly name: (key: string) => string
    readonly words: (text: string) => string
  },
): Worked {
  const { circuit, report, words } = given
  const rule = ruleOf(finding.rule)
  const reading = rule && readingsOf({ circuit, rule, component: finding.component }).find((one) => one.key === finding.condition)?.reading
  return {
    verdict: finding.verdict,
    name: given.name(finding.component),
    title: ruleTitle(finding.rule),
    figures: figuresOf(finding),
    inked: isInked(finding.evidence),
    scale: scaleView(finding, { atMost: mostUsed(finding, report) }),
    says: words(finding.says),
    remedy: words(finding.remedy),
    evidence: EVIDENCE[finding.evidence],
    formula: rule?.formula ?? '',
    rows: figuresBehind({ circuit, finding }).map(rowOf),
    result: resultOf(finding, reading ?? null),
    source: (rule?.sources ?? []).map(({ title, place }) => `${title}: ${place}`).join('; '),
  }
}

function byRule(report: Report, verdict: Finding['verdict']) {
  const rules = new Map<string, Finding[]>()
  for (const finding of report.findings)
    if (finding.verdict === verdict) rules.set(finding.rule, [...(rules.get(finding.rule) ?? []), finding])
  return [...rules].map(([rule, found]) => ({ rule, found })).sort((a, b) => b.found.length - a.found.length)
}

/** What is missing is named by component and rating; a stranger knows neither key. */
function inWords(missing: string, names: ReadonlyMap<string, string>): string {
  const [, key = '', rest = ''] = /^([a-z0-9][a-z0-9-]*)\.(.+)$/.exec(missing) ?? []
  return names.has(key) ? `${names.get(key)}: ${rest}` : missing
}

function tightestOf(found: readonly Finding[], name: (key: string) => string): string {
  const [first] = [...found].sort((a, b) => (b.used ?? -1) - (a.used ?? -1))
  const figures = first ? figuresOf(first) : ''
  return first && figures !== '' ? `${name(first.component)}, ${figures}` : ''
}
