/** A finding as pages print it: figures first, then the ruled scale, then one sentence. */
import type { Finding } from '../../engine/report.ts'
import { rules } from '../../engine/rules/index.ts'
import { figure } from '../../web/format.ts'

export type ScaleView = {
  readonly label: string
  readonly ticks: readonly number[]
  readonly marks: readonly number[]
  readonly width: number
  readonly verdict: string
  readonly mark: string
}
export type FindingView = {
  readonly verdict: string
  readonly name: string
  readonly href: string
  readonly figures: string
  readonly scale: ScaleView | null
  readonly says: string
  readonly remedy: string
  readonly title: string
  readonly evidence: string
  readonly inked: boolean
}

const LENGTH = 160

export function findingView(
  finding: Finding,
  given: { readonly vehicleId: string; readonly name: (component: string) => string },
): FindingView {
  return {
    verdict: finding.verdict,
    name: given.name(finding.component),
    href: `/vehicles/${given.vehicleId}/components/${finding.component}`,
    figures: figuresOf(finding),
    scale: scaleView(finding),
    says: finding.says,
    remedy: finding.remedy,
    title: rules.find((rule) => rule.id === finding.rule)?.title ?? finding.rule,
    evidence: finding.evidence,
    inked: finding.evidence === 'datasheet' || finding.evidence === 'marked' || finding.evidence === 'measured',
  }
}

/** "26.1 of 30 A". */
export function figuresOf(finding: Finding): string {
  if (finding.value === null) return finding.limit === null ? '' : `? of ${figure(finding.limit, finding.unit)}`
  if (finding.limit === null) return `${figure(finding.value, finding.unit)} of ?`
  return `${figure(finding.value, '')} of ${figure(finding.limit, finding.unit)}`
}

/** A rule ticked at tenths, marked at the rule's own thresholds; past the limit the fill runs out of its end. */
export function scaleView(finding: Finding): ScaleView | null {
  if (finding.used === null || finding.limit === null) return null
  const end = Math.max(1, finding.overAbove ?? 1)
  const x = (share: number) => Math.round((LENGTH * share * 10) / end) / 10
  const marks = [finding.overAbove ?? 1, ...(finding.tightAbove === null ? [] : [finding.tightAbove])]
  return {
    label: `${Math.round(Math.min(finding.used, 99) * 100)} % of the limit used: ${finding.verdict}`,
    ticks: Array.from({ length: 11 }, (_, n) => (LENGTH * n) / 10),
    marks: marks.map(x),
    width: Math.min(200, Math.max(0.5, x(finding.used))),
    verdict: finding.verdict,
    mark: finding.verdict,
  }
}
