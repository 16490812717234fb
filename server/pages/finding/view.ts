import type { SolvedCircuit } from '../../engine/circuit-of.ts'
import type { Finding, Report } from '../../engine/report.ts'
import { figuresBehind } from '../../engine/rules/explain.ts'
import type { Rule } from '../../engine/rules/rule.ts'
import type { Component } from '../../engine/vehicle.ts'
import { figureOr } from '../../web/format.ts'
import { type DayView, dayView } from '../shared/day-view.ts'
import { figuresOf, findingHref, isInked, mostUsed, ruleTitle } from '../shared/finding-view.ts'
import { judgedWords, ruleHref, type SourceView, sourceViews } from '../shared/rule-words.ts'
import { type ScaleView, scaleView } from '../shared/scale.ts'
import type { Day } from '../shared/vehicle-facts.ts'
import { EVIDENCE, type ResultRow, readingsOf, resultOf, rowOf, type WorkedRow } from '../shared/worked-words.ts'

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
  readonly rows: readonly WorkedRow[]
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
