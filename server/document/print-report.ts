/** A report as the open format prints it: these fields and no others; null for what is not computed. */
import type { Report } from '../engine/report.ts'

export function printReport(report: Report): unknown {
  return {
    format: report.format,
    asOf: report.asOf,
    version: report.version,
    conditions: report.conditions.map((condition) => ({
      key: condition.key,
      solved: condition.solved,
      unfed: condition.unfed,
      terminals_V: Object.fromEntries(Object.entries(condition.terminals_V).map(([terminal, volts]) => [terminal, finite(volts)])),
      components: Object.fromEntries(
        Object.entries(condition.components).map(([key, one]) => [
          key,
          { current_A: finite(one.current_A), drop_V: finite(one.drop_V), temperature_degC: finite(one.temperature_degC) },
        ]),
      ),
    })),
    findings: report.findings.map(
      ({ rule, component, condition, verdict, value, limit, unit, used, says, remedy, missing, evidence, sources }) => ({
        rule,
        component,
        condition,
        verdict,
        value: finite(value),
        limit: finite(limit),
        unit,
        used: used === Number.MAX_VALUE ? null : finite(used),
        says,
        remedy,
        missing,
        evidence,
        sources,
      }),
    ),
  }
}

function finite(value: number | null): number | null {
  return value !== null && Number.isFinite(value) ? value : null
}
