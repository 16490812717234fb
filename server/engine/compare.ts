/** Two reports compared: which findings appeared, cleared or changed. */
import type { Finding, Report } from './report.ts'
import { RANK } from './rules/check.ts'

/**
 * Findings are matched by rule and component. Appeared: not clear now, and absent or better before. Cleared: was not clear, and is
 * clear or gone. Changed: all others that stand with another verdict, value or limit (1 in 10⁹).
 */
export function compareFindings(
  before: Report,
  after: Report,
): {
  readonly appeared: readonly Finding[]
  readonly cleared: readonly Finding[]
  readonly changed: readonly { readonly before: Finding; readonly after: Finding }[]
} {
  const key = (finding: Finding) => `${finding.rule} ${finding.component}`
  const were = new Map(before.findings.map((finding) => [key(finding), finding]))
  const are = new Map(after.findings.map((finding) => [key(finding), finding]))
  const isWorse = (finding: Finding) => RANK[were.get(key(finding))?.verdict ?? 'clear'] < RANK[finding.verdict]
  const isCleared = (finding: Finding) => finding.verdict !== 'clear' && (are.get(key(finding))?.verdict ?? 'clear') === 'clear'
  const changed = after.findings.flatMap((finding) => {
    const was = were.get(key(finding))
    if (!was || isWorse(finding) || isCleared(was)) return []
    const moved = was.verdict !== finding.verdict || differs(was.value, finding.value) || differs(was.limit, finding.limit)
    return moved ? [{ before: was, after: finding }] : []
  })
  return { appeared: after.findings.filter(isWorse), cleared: before.findings.filter(isCleared), changed }
}

function differs(a: number | null, b: number | null): boolean {
  if (a === null || b === null) return a !== b
  return Math.abs(a - b) > 1e-9 * Math.max(Math.abs(a), Math.abs(b), 1e-9)
}
