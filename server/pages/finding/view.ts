import type { SolvedCircuit } from '../../engine/circuit-of.ts'
import type { Finding, Report } from '../../engine/report.ts'
import { readingAt } from '../../engine/rules/check.ts'
import { figuresBehind } from '../../engine/rules/explain.ts'
import type { Reading, Rule, Worked } from '../../engine/rules/rule.ts'
import type { Component } from '../../engine/vehicle.ts'
import { figure, figureOr } from '../../web/format.ts'
import { type DayView, dayView } from '../shared/day-view.ts'
import { figuresOf, findingHref, isInked, mostUsed, ruleTitle } from '../shared/finding-view.ts'
import { capital, judgedWords, ruleHref, type SourceView, sourceViews } from '../shared/rule-words.ts'
import { type ScaleView, scaleView } from '../shared/scale.ts'
import type { Day } from '../shared/vehicle-facts.ts'
import { closeFigure } from './close-figure.ts'

type Row = { readonly name: string; readonly value: string; readonly isWord: boolean; readonly grade: string; readonly inked: boolean }
type ResultRow = { readonly label: string; readonly value: string }
type Fact = { readonly label: string; readonly value: string; readonly href: string }
export type View = {
  readonly id: string
  readonly day: DayView
  readonly findingsHref: string
  readonly logHref: string
  readonly says: string
  readonly verdict: string
  readonly figures: string
  readonly inked: boolean
  readonly scale: ScaleView | null
  readonly remedy: string
  readonly facts: readonly Fact[]
  readonly missing: readonly string[]
  readonly formula: string
  readonly rows: readonly Row[]
  readonly noRows: string
  readonly result: readonly ResultRow[]
  readonly limits: string
  readonly rule: { readonly href: string; readonly words: string }
  readonly conditions: readonly {
    readonly name: string
    readonly value: string
    readonly limit: string
    readonly nothing: string
    readonly here: boolean
  }[]
  readonly sources: readonly SourceView[]
  readonly othersOf: string
  readonly others: readonly { readonly title: string; readonly href: string; readonly figures: string; readonly verdict: string }[]
}

export function view(given: {
  readonly vehicle: { readonly id: string; readonly firstOn: string | null }
  readonly day: Day
  readonly judged: { readonly report: Report }
  readonly rule: Rule
  readonly component: Component
  readonly finding: Finding
  readonly circuit: SolvedCircuit
  readonly query: string
}): View {
  const { vehicle, day, judged, rule, component, finding, circuit, query } = given
  const { report } = judged
  const readings = readingsOf({ circuit, rule, component: component.key })
  const worst = readings.find((one) => one.key === finding.condition)
  const reading = worst?.reading ?? null
  const isOfWiring = rule.judgedIn !== 'condition' && reading !== null
  const rows = figuresBehind({ circuit, finding }).map(rowOf)
  return {
    id: vehicle.id,
    day: dayView(day, { vehicle, path: findingHref(finding, { vehicleId: vehicle.id }) }),
    logHref: day.isToday ? `/vehicles/${vehicle.id}/entries/new?component=${component.key}` : '',
    findingsHref: `/vehicles/${vehicle.id}/findings${day.isToday ? '' : `?on=${day.on}`}`,
    says: finding.says,
    verdict: finding.verdict,
    figures: figuresOf(finding),
    inked: isInked(finding.evidence),
    scale: scaleView(finding, { atMost: mostUsed(finding, report) }),
    remedy: finding.verdict === 'unknown' ? '' : finding.remedy,
    facts: [
      { label: 'Component', value: component.name, href: `/vehicles/${vehicle.id}/components/${component.key}${query}` },
      { label: 'Worst with', value: isOfWiring ? 'the same in all' : (worst?.name ?? finding.condition), href: '' },
      { label: 'Judged', value: judgedWords(rule), href: '' },
      { label: 'Rests on', value: EVIDENCE[finding.evidence], href: '' },
    ],
    missing: finding.missing,
    formula: rule.formula,
    rows,
    noRows: rows.length === 0 ? 'No figures go into a formula here: it follows from what else is recorded or found.' : '',
    result: resultOf(finding, reading),
    limits: rule.limits,
    rule: { href: ruleHref(rule.id), words: 'this rule, with its sources' },
    conditions:
      rule.judgedIn !== 'condition' || readings.length < 2
        ? []
        : readings.map((one) => ({
            name: one.name,
            value: one.reading ? figureOr(one.reading.value, one.reading.unit) : '',
            limit: one.reading ? figureOr(one.reading.limit, one.reading.unit) : '',
            nothing: one.reading ? '' : 'nothing to judge',
            here: one.key === finding.condition,
          })),
    sources: sourceViews(rule),
    othersOf: component.name,
    others: report.findings
      .filter((one) => one.component === component.key && one.rule !== finding.rule)
      .map((one) => ({
        title: ruleTitle(one.rule),
        href: findingHref(one, { vehicleId: vehicle.id, query }),
        figures: figuresOf(one),
        verdict: one.verdict,
      })),
  }
}

const EVIDENCE: Readonly<Record<Finding['evidence'], string>> = {
  datasheet: 'figures from a datasheet',
  marked: 'figures marked on the part',
  measured: 'measured figures',
  typical: 'typical figures',
  assumed: 'assumed figures',
}

/** What the rule reads in each condition; null where there is nothing for it to judge. */
function readingsOf(given: { readonly circuit: SolvedCircuit; readonly rule: Rule; readonly component: string }) {
  const { circuit, rule, component } = given
  return circuit.conditions.map((solved) => ({
    key: solved.condition.key,
    name: solved.condition.name,
    reading: readingAt(circuit, rule, { solved, component }),
  }))
}

function rowOf(one: Worked): Row {
  return {
    name: capital(one.name),
    value: closeFigure(one.value, one.unit),
    isWord: typeof one.value === 'string',
    grade: one.grade ?? '',
    inked: one.grade === undefined || isInked(one.grade),
  }
}

const NO_BREAK = '\u00a0'

/** The value beside its limit, and where that limit's tight and over begin; nothing where no two figures are compared. */
function resultOf(finding: Finding, reading: Reading | null): readonly ResultRow[] {
  const { value, limit, unit, used } = finding
  if (value === null && limit === null) return []
  // More current only lowers what must not fall below a limit.
  const bound = (reading?.atLeastBecause ?? []).length === 0 ? '' : reading?.sense === 'at-least' ? ', at most' : ', at least'
  const share = used === null ? (finding.verdict === 'over' ? 'past any' : 'not known') : figure(used * 100, '%')
  return [
    { label: `Value${bound}`, value: closeFigure(value, unit) },
    { label: reading?.limitIs ? `Limit: ${reading.limitIs}` : 'Limit', value: closeFigure(limit, unit) },
    { label: 'Share of the limit used', value: share },
    // What reads nothing of its own says in words alone where it turns.
    ...(reading === null || limit === null
      ? []
      : [
          turn({ word: 'Tight', share: finding.tightAbove, limit, reading }),
          turn({ word: 'Over', share: reading.atMost === 'tight' ? null : finding.overAbove, limit, reading }),
        ]),
  ]
}

/** "Tight above (75 %)", 65.156 A; for a limit that must be reached, "Tight below (95 %)", 11.053 V. */
function turn(given: {
  readonly word: string
  readonly share: number | null
  readonly limit: number
  readonly reading: Reading
}): ResultRow {
  const { word, share, limit, reading } = given
  if (share === null) return { label: word, value: 'never' }
  const isAtLeast = reading.sense === 'at-least'
  return {
    label: `${word} ${isAtLeast ? 'below' : 'above'} (${figure(share * 100, '%').replace(' ', NO_BREAK)})`,
    value: closeFigure(isAtLeast ? limit / share : limit * share, reading.unit),
  }
}
