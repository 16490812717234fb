/** What lists say of a vehicle without reading its journal: made with its head, kept beside it, and never the truth. */
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import type { ConditionReport, Finding, Report, VehicleDocument, Verdict } from './engine-types.ts'
import { outlineOf } from './entry-rows.ts'
import type { Due, State, Unfinished } from './state.ts'

export type LatestEntry = { readonly id: string; readonly effectiveOn: string; readonly title: string }
export type Facts = {
  readonly name: string
  readonly systemVoltage_V: number
  readonly odometer_km: number | null
  /** entries that stand */
  readonly entryCount: number
  /** entries that the journal lists: also withdrawn ones, which it marks */
  readonly listedCount: number
  readonly costs_minor: Readonly<Record<string, number>>
  readonly firstOn: string | null
  readonly latest: readonly LatestEntry[]
  readonly unfinished: readonly Omit<Unfinished, 'entryId'>[]
  readonly due: readonly Omit<Due, 'entryId'>[]
  readonly fittedOn: readonly (readonly [component: string, on: string])[]
  readonly verdicts: Readonly<Record<Verdict, number>>
  readonly worst: Verdict | 'nothing'
  readonly headline: Headline | null
  /** null for a vehicle that is here */
  readonly left: Left | null
}
export type Left = { readonly on: string; readonly how: string; readonly to: string }

/** The finding to speak of first, with what its scale needs of the report. */
export type Headline = { readonly finding: Finding; readonly name: string; readonly conditions: readonly ConditionReport[] }

export function factsFrom(
  db: Db,
  actor: Actor,
  given: {
    readonly vehicleId: string
    readonly head: State
    readonly document: VehicleDocument
    readonly report: Report
  },
): Facts {
  const { head, report } = given
  const { rows, live } = outlineOf(db, actor, given.vehicleId)
  const costs_minor: Record<string, number> = {}
  for (const { effectiveOn, cost_minor } of live) {
    const year = effectiveOn.slice(0, 4)
    if (cost_minor !== null) costs_minor[year] = (costs_minor[year] ?? 0) + cost_minor
  }
  const count = (verdict: Verdict): number => report.findings.filter((finding) => finding.verdict === verdict).length
  return {
    name: head.vehicle.name,
    systemVoltage_V: head.vehicle.systemVoltage_V,
    odometer_km: live.reduce<number | null>((last, entry) => entry.odometer_km ?? last, null),
    entryCount: live.length,
    listedCount: rows.filter((row) => row.correction !== 'withdrawn' && row.replacedBy === null).length,
    costs_minor,
    firstOn: live[0]?.effectiveOn ?? null,
    latest: live
      .slice(-3)
      .reverse()
      .map(({ id, effectiveOn, title }) => ({ id, effectiveOn, title })),
    unfinished: [...head.unfinished.values()].map(({ entryId: _, ...one }) => one),
    due: [...head.due.values()].map(({ entryId: _, ...one }) => one),
    fittedOn: [...head.fittedOn],
    verdicts: { over: count('over'), tight: count('tight'), unknown: count('unknown'), clear: count('clear') },
    worst: report.findings[0]?.verdict ?? 'nothing',
    headline: headlineOf(given.document, report),
    left: leftOf(head),
  }
}

export function leftOf(state: State): Left | null {
  const { leftOn, leftHow, leftTo } = state.vehicle
  return typeof leftOn === 'string' ? { on: leftOn, how: String(leftHow), to: String(leftTo ?? '') } : null
}

/** What rests on a guess comes after what is itself near its limit. */
function headlineOf(document: VehicleDocument, report: Report): Headline | null {
  const finding = report.findings.find((one) => one.rule !== 'rating-evidence' && one.verdict !== 'clear') ?? report.findings[0]
  if (!finding || finding.verdict === 'clear') return null
  const condition = report.conditions.find((one) => one.key === finding.condition)
  const carried = condition?.components[finding.component]
  return {
    finding,
    name: document.components.find((one) => one.key === finding.component)?.name ?? finding.component,
    conditions:
      condition && carried ? [{ ...condition, unfed: [], faults: [], terminals_V: {}, components: { [finding.component]: carried } }] : [],
  }
}
