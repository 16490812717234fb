import type { FeedRow, Report } from '../../engine/report.ts'
import type { VehicleDocument } from '../../engine/vehicle.ts'
import type { Facts } from '../../records/facts.ts'
import type { State } from '../../records/state.ts'
import type { LastSave } from '../../records/versions.ts'
import { dateWords, figure, kilometres } from '../../web/format.ts'
import { beforeWords, type DayView, dayQuery, dayView } from '../shared/day-view.ts'
import { type FindingView, findingView, ruleTitle, verdictsOf, worstWords } from '../shared/finding-view.ts'
import { type LedgerRow, ledgerRows, looseRows } from '../shared/ledger.ts'
import { leftWords } from '../shared/left-words.ts'
import { type UndoView, undoView } from '../shared/undo-view.ts'
import type { Chosen, Day } from '../shared/vehicle-facts.ts'

export type View = {
  readonly id: string
  readonly day: DayView
  readonly on: string
  readonly asOf: string
  /** the day alone, kept on the pages that know no condition */
  readonly dayQuery: string
  readonly isToday: boolean
  readonly query: string
  readonly undo: UndoView | null
  /** empty for a vehicle that is here */
  readonly left: string
  readonly system: string
  readonly odometer: string
  readonly worst: string
  readonly nothing: string
  readonly toDo: readonly { readonly href: string; readonly what: string; readonly when: string }[]
  readonly conditions: Chosen['options']
  readonly condition: string
  readonly troubles: readonly string[]
  readonly findings: readonly FindingView[]
  readonly moreFindings: string
  readonly unknowns: readonly { readonly title: string; readonly count: string; readonly because: string; readonly href: string }[]
  readonly clear: string
  readonly rows: readonly LedgerRow[]
  readonly loose: readonly { readonly name: string; readonly href: string; readonly carries: string }[]
  readonly looseCount: string
}

/** What one page holds, so that the largest vehicle stays quick on a phone. */
const MOST_ROWS = 72
const MOST_FINDINGS = 8
const MOST_LOOSE = 12

export function view(given: {
  readonly vehicle: {
    readonly id: string
    readonly firstOn: string | null
    readonly odometer_km: number | null
  }
  readonly day: Day
  readonly judged: { readonly document: VehicleDocument; readonly report: Report }
  readonly state: Pick<State, 'fittedOn'> & {
    readonly systemVoltage_V: number
    readonly left: Facts['left']
    readonly unfinished: readonly (Facts['unfinished'][number] & { readonly entryId?: string })[]
    readonly due: readonly (Facts['due'][number] & { readonly entryId?: string })[]
  }
  readonly tree: readonly FeedRow[]
  readonly condition: Chosen
  readonly last: LastSave | null
}): View {
  const { vehicle, day, judged, state, tree, condition } = given
  const { report, document } = judged
  const names = new Map(document.components.map((component) => [component.key, component.name]))
  const name = (key: string) => names.get(key) ?? key
  const href = (key: string) => `/vehicles/${vehicle.id}/components/${key}${condition.query}`
  const failing = report.findings.filter((finding) => finding.verdict === 'over' || finding.verdict === 'tight')
  const ledger = { tree, judged, changedOn: state.fittedOn, on: day.on, href, most: MOST_ROWS }
  const loose = looseRows(ledger)
  return {
    id: vehicle.id,
    day: dayView(day, {
      vehicle,
      path: `/vehicles/${vehicle.id}`,
      kept: condition.isAsked ? { condition: condition.key } : {},
    }),
    on: day.on,
    dayQuery: dayQuery(day),
    asOf: dateWords(day.on),
    isToday: day.isToday,
    query: condition.query,
    undo: day.isToday ? undoView(given.last) : null,
    left: leftWords(state.left),
    system: `${state.systemVoltage_V} V`,
    odometer: vehicle.odometer_km === null ? 'not recorded' : kilometres(vehicle.odometer_km),
    worst: worstWords(verdictsOf(report)),
    nothing:
      document.components.length > 0
        ? ''
        : !day.isToday && vehicle.firstOn !== null && day.on < vehicle.firstOn
          ? beforeWords(vehicle.firstOn)
          : day.isToday
            ? 'Nothing is recorded yet.'
            : 'Nothing was fitted yet on that day.',
    toDo: [
      ...state.unfinished.map((one) => ({
        // On a past day it may long be done: only its entry is sure to be there.
        href: day.isToday ? `/vehicles/${vehicle.id}/unfinished/${one.key}` : `/entries/${one.entryId}`,
        what: `Enter the wiring: ${one.text}`,
        when: `since ${dateWords(one.since)}`,
      })),
      ...[...state.due]
        .sort((a, b) => ((a.on ?? '9') < (b.on ?? '9') ? -1 : 1))
        .map((one) => ({
          href: day.isToday ? `/vehicles/${vehicle.id}/due/${one.key}` : `/entries/${one.entryId}`,
          what: one.what,
          when: [one.on === undefined ? '' : dueWords(one.on, day.on), one.odometer_km === undefined ? '' : `at ${one.odometer_km} km`]
            .filter((part) => part !== '')
            .join(' or '),
        })),
    ],
    conditions: condition.options,
    condition: condition.name,
    troubles: report.conditions.flatMap((one) => [
      ...(one.unfed.length > 0 ? [`${one.name}: no feed reaches ${one.unfed.map(name).join(', ')}.`] : []),
      ...one.faults.map((fault) => `${one.name}: ${fault}`),
    ]),
    findings: failing
      .slice(0, MOST_FINDINGS)
      .map((finding) => findingView(finding, { vehicleId: vehicle.id, name, report, query: condition.query })),
    moreFindings: failing.length > MOST_FINDINGS ? `${failing.length - MOST_FINDINGS} more over or tight` : '',
    unknowns: unknownsByRule(report).map(({ rule, findings }) => ({
      title: ruleTitle(rule),
      count: `${findings.length} unknown`,
      because: [...new Set(findings.flatMap((finding) => finding.missing))].slice(0, 2).join('; '),
      href: `/vehicles/${vehicle.id}/findings?verdict=unknown&rule=${rule}${day.isToday ? '' : `&on=${day.on}`}`,
    })),
    clear: `${report.findings.filter((finding) => finding.verdict === 'clear').length} judged clear`,
    rows: ledgerRows(ledger),
    loose: loose.slice(0, MOST_LOOSE).map((row) => ({
      name: name(row.component),
      href: href(row.component),
      carries: row.current_A === null ? '' : figure(Math.abs(row.current_A), 'A'),
    })),
    looseCount: loose.length === 0 ? '' : String(loose.length),
  }
}

function unknownsByRule(report: Report) {
  const byRule = new Map<string, Report['findings'][number][]>()
  for (const finding of report.findings)
    if (finding.verdict === 'unknown') byRule.set(finding.rule, [...(byRule.get(finding.rule) ?? []), finding])
  return [...byRule].map(([rule, findings]) => ({ rule, findings })).sort((a, b) => b.findings.length - a.findings.length)
}

function dueWords(on: string, today: string): string {
  return on < today ? `was due ${dateWords(on)}` : `due ${dateWords(on)}`
}
