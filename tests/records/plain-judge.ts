/** A judge simple enough to foretell: a fuse under 10 A is over, one without a figure is unknown, any other is clear. */
import type { Finding, Report } from '../../server/engine/report.ts'
import type { VehicleDocument } from '../../server/engine/vehicle.ts'

export const CHECK_VERSION = 'plain'

export function checkVehicle(doc: VehicleDocument): Report {
  const findings = doc.components.flatMap((component) => {
    const part = doc.parts.find((one) => one.key === component.part)
    if (part?.kind !== 'fuse') return []
    const rated = part.ratings.rated_A
    const verdict = typeof rated !== 'number' ? ('unknown' as const) : rated < 10 ? ('over' as const) : ('clear' as const)
    return [finding(component.key, verdict)]
  })
  return { format: 'loombook-report/1', asOf: doc.asOf ?? null, version: CHECK_VERSION, conditions: [], findings }
}

export function compareFindings(before: Report, after: Report) {
  const bad = (report: Report, key: string) => report.findings.some((one) => one.component === key && one.verdict !== 'clear')
  return {
    appeared: after.findings.filter((one) => one.verdict !== 'clear' && !bad(before, one.component)),
    cleared: before.findings.filter((one) => one.verdict !== 'clear' && !bad(after, one.component)),
    changed: [],
  }
}

function finding(component: string, verdict: Finding['verdict']): Finding {
  const missing = verdict === 'unknown' ? [`${component}.rated_A`] : []
  return {
    rule: 'fuse-load',
    component,
    condition: 'all',
    verdict,
    value: 1,
    limit: 2,
    unit: 'A',
    used: 0.5,
    tightAbove: null,
    overAbove: 1,
    says: '',
    remedy: '',
    missing,
    evidence: 'assumed',
    sources: [],
  }
}
