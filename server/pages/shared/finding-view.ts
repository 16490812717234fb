/** A finding as pages print it: figures first, then the ruled scale, then one sentence. */
import type { Finding, Report, Verdict } from '../../engine/report.ts'
import { rules } from '../../engine/rules/index.ts'
import type { Grade } from '../../engine/vehicle.ts'
import { figure } from '../../web/format.ts'
import { ruleHref } from './rule-words.ts'
import { type ScaleView, scaleView } from './scale.ts'

export type FindingView = {
  readonly verdict: string
  readonly name: string
  readonly href: string
  readonly figures: string
  readonly scale: ScaleView | null
  readonly says: string
  readonly remedy: string
  readonly title: string
  readonly ruleHref: string
  /** its own page; empty where it is not of any day that can be shown */
  readonly workedHref: string
  readonly evidence: string
  readonly inked: boolean
  readonly was: string
}

export function findingView(
  finding: Finding,
  given: {
    readonly vehicleId: string
    readonly name: (component: string) => string
    readonly report?: Pick<Report, 'conditions'> | undefined
    /** the same finding before the entry at hand */
    readonly before?: Finding | undefined
    /** "?on=…" where it is not today's page */
    readonly query?: string
    /** it has a page of its own (so unless said otherwise); what is only tried has none */
    readonly hasPage?: boolean
  },
): FindingView {
  const { before } = given
  return {
    verdict: finding.verdict,
    name: given.name(finding.component),
    href: `/vehicles/${given.vehicleId}/components/${finding.component}${given.query ?? ''}`,
    figures: figuresOf(finding),
    scale: scaleView(finding, { was: before?.used, atMost: given.report ? mostUsed(finding, given.report) : null }),
    says: finding.says,
    remedy: finding.remedy,
    title: ruleTitle(finding.rule),
    ruleHref: ruleHref(finding.rule),
    workedHref: given.hasPage === false ? '' : findingHref(finding, given),
    evidence: finding.evidence,
    inked: isInked(finding.evidence),
    was: before ? `before: ${figuresOf(before) || before.verdict}` : '',
  }
}

/** The finding's own page, where its figures stand. */
export function findingHref(
  finding: Pick<Finding, 'rule' | 'component'>,
  given: { readonly vehicleId: string; readonly query?: string },
): string {
  return `/vehicles/${given.vehicleId}/findings/${finding.rule}/${finding.component}${given.query ?? ''}`
}

export function ruleTitle(rule: string): string {
  return rules.find((one) => one.id === rule)?.title ?? rule
}

/** "1 over, 4 tight, 19 unknown". */
export function worstWords(verdicts: Readonly<Record<Verdict, number>>): string {
  const counts = (['over', 'tight', 'unknown'] as const).filter((verdict) => verdicts[verdict] > 0)
  if (counts.length > 0) return counts.map((verdict) => `${verdicts[verdict]} ${verdict}`).join(', ')
  return verdicts.clear === 0 ? 'nothing to judge yet' : 'all clear'
}

export function verdictsOf(report: Report): Readonly<Record<Verdict, number>> {
  const count = (verdict: Verdict) => report.findings.filter((finding) => finding.verdict === verdict).length
  return { over: count('over'), tight: count('tight'), unknown: count('unknown'), clear: count('clear') }
}

/** Known from a sheet, a marking or a measurement; else it is set in pencil. */
export function isInked(grade: Grade): boolean {
  return grade === 'datasheet' || grade === 'marked' || grade === 'measured'
}

/** "26.1 of 30 A". */
export function figuresOf(finding: Finding): string {
  if (finding.value === null) return finding.limit === null ? '' : `? of ${figure(finding.limit, finding.unit)}`
  if (finding.limit === null) return `${figure(finding.value, finding.unit)} of ?`
  return `${figure(finding.value, '')} of ${figure(finding.limit, finding.unit)}`
}

/** The share of the limit that the branch's own protection still lets through, where loads of unknown current lie behind. */
export function mostUsed(finding: Finding, report: Pick<Report, 'conditions'>): number | null {
  if (finding.unit !== 'A' || finding.limit === null || finding.limit <= 0) return null
  const carried = report.conditions.find((one) => one.key === finding.condition)?.components[finding.component]
  return carried?.atLeast && carried.atMost_A !== null ? carried.atMost_A / finding.limit : null
}

/** Which finding of the other report is the same one. */
export function sameFinding(findings: readonly Finding[], finding: Finding): Finding | undefined {
  return findings.find((one) => one.rule === finding.rule && one.component === finding.component)
}
