import { carried_A } from '../../engine/carried.ts'
import type { SolvedCircuit } from '../../engine/circuit-of.ts'
import { partKind } from '../../engine/parts/index.ts'
import type { BranchFacts, FeedRow, Report } from '../../engine/report.ts'
import type { Component, VehicleDocument } from '../../engine/vehicle.ts'
import type { Decision } from '../../records/decisions.ts'
import type { Life } from '../../records/life.ts'
import type { State } from '../../records/state.ts'
import { dateWords, figure, figureOr } from '../../web/format.ts'
import { type DayView, dayQuery, dayView } from '../shared/day-view.ts'
import { type DecisionView, decisionView } from '../shared/decision-words.ts'
import { type FindingView, figuresOf, findingView, ruleTitle } from '../shared/finding-view.ts'
import { type LedgerRow, ledgerRows } from '../shared/ledger.ts'
import { type Option, option } from '../shared/options.ts'
import type { Day } from '../shared/vehicle-facts.ts'

type Step = { readonly name: string; readonly href: string; readonly used: string; readonly verdict: string; readonly here: boolean }
export type View = {
  readonly id: string
  readonly key: string
  readonly day: DayView
  readonly isToday: boolean
  readonly dayQuery: string
  readonly lead: string
  readonly because: string
  readonly facts: readonly { readonly label: string; readonly value: string; readonly href: string }[]
  readonly condition: string
  readonly conditions: readonly Option[]
  readonly shares: readonly { readonly name: string; readonly href: string; readonly current: string; readonly part: string }[]
  readonly total: string
  readonly feed: readonly Step[]
  readonly back: readonly Step[]
  readonly below: readonly LedgerRow[]
  readonly findings: readonly FindingView[]
  readonly terminals: readonly {
    readonly terminal: string
    readonly volts: string
    readonly to: readonly { readonly name: string; readonly href: string }[]
  }[]
  readonly history: readonly { readonly id: string; readonly when: string; readonly says: string }[]
  readonly lifeWords: string
  readonly decisions: readonly DecisionView[]
  readonly insertWords: string
  /** a conductor's colour, number and terminals can be recorded */
  readonly hasMarks: boolean
  readonly once: string
}

const MOST_LIVED = 8

export function view(given: {
  readonly vehicle: { readonly id: string; readonly firstOn: string | null }
  readonly day: Day
  readonly judged: { readonly document: VehicleDocument; readonly report: Report }
  readonly component: Component
  readonly circuit: SolvedCircuit
  readonly facts: BranchFacts
  /** the condition shown */
  readonly index: number
  readonly query: string
  /** the condition asked for by the address, or none */
  readonly condition: string
  readonly shares: BranchFacts['shares']
  readonly tree: readonly FeedRow[]
  readonly state: State
  readonly decisions: readonly Decision[]
  readonly life: Life
  readonly once: string
}): View {
  const { vehicle, day, judged, component, circuit, facts, index, shares } = given
  const { document, report } = judged
  const lived = given.life.events.filter((event) => event.on <= day.on)
  const names = new Map(document.components.map((one) => [one.key, one.name]))
  const name = (key: string) => names.get(key) ?? key
  const href = (key: string) => `/vehicles/${vehicle.id}/components/${key}${given.query}`
  const part = circuit.part(component.key)
  const shown = report.conditions[index]
  const total = shares.reduce((sum, share) => sum + Math.abs(share.current_A), 0)
  const current_A = carried_A(circuit.conditions[index], { circuit, component: component.key })
  const step = (key: string): Step => {
    const finding = report.findings.find((one) => one.component === key && one.rule !== 'rating-evidence' && one.unit === 'A')
    return {
      name: name(key),
      href: href(key),
      used: finding ? figuresOf(finding) : '',
      verdict: finding && finding.verdict !== 'clear' ? finding.verdict : '',
      here: key === component.key,
    }
  }
  const zone = document.zones?.find((one) => one.key === component.zone)?.name
  return {
    id: vehicle.id,
    key: component.key,
    day: dayView(day, {
      vehicle,
      path: `/vehicles/${vehicle.id}/components/${component.key}`,
      kept: given.condition === '' ? {} : { condition: given.condition },
    }),
    isToday: day.isToday,
    dayQuery: dayQuery(day),
    lead: leadOf({
      facts,
      name,
      over: report.findings.some((finding) => finding.component === component.key && finding.verdict === 'over'),
    }),
    because: facts.headroom.because.length > 0 ? `Not counted, because it is not known: ${facts.headroom.because.join('; ')}.` : '',
    facts: [
      { label: 'Carries', value: figureOr(current_A === null ? null : Math.abs(current_A), 'A'), href: '' },
      { label: partKind(part.kind)?.title ?? part.kind, value: part.name, href: `/parts/${part.key}` },
      ...(component.length_m === undefined ? [] : [{ label: 'Length', value: figure(component.length_m, 'm'), href: '' }]),
      ...(component.parallel === undefined ? [] : [{ label: 'Side by side', value: String(component.parallel), href: '' }]),
      { label: 'Zone', value: zone ?? 'not said', href: '' },
    ],
    condition: shown?.name ?? '',
    conditions: report.conditions.map((one) => option(one.key, one.name, shown?.key ?? '')),
    shares: shares.map((share) => ({
      name: share.load === null ? 'between sources' : name(share.load),
      href: share.load === null ? '' : href(share.load),
      current: share.unknown ? 'not known' : figure(Math.abs(share.current_A), 'A'),
      part: share.unknown || total === 0 ? '' : figure((Math.abs(share.current_A) / total) * 100, '%'),
    })),
    total: shares.length > 1 ? figure(total, 'A') : '',
    feed: facts.feedPath.map(step),
    back: facts.returnPath.map(step),
    below: ledgerRows({ tree: given.tree, judged, changedOn: given.state.fittedOn, on: day.on, href, most: 40 }, component.key),
    findings: report.findings
      .filter((finding) => finding.component === component.key)
      .map((finding) => findingView(finding, { vehicleId: vehicle.id, name, report, query: given.query })),
    terminals: circuit.waysOf(component.key).map((terminal) => ({
      terminal: terminal.slice(component.key.length + 1),
      volts: figureOr(shown?.terminals_V[terminal] ?? null, 'V'),
      to: document.joins
        .flatMap((join) => (join.from === terminal ? [join.to] : join.to === terminal ? [join.from] : []))
        .map((other) => {
          const [key = '', end = ''] = [other.slice(0, other.indexOf(':')), other.slice(other.indexOf(':') + 1)]
          return { name: `${name(key)} ${end}`, href: href(key) }
        }),
    })),
    history: lived
      .slice(-MOST_LIVED)
      .reverse()
      .map((event) => ({ id: event.entryId, when: dateWords(event.on), says: event.says[0] ?? event.title })),
    lifeWords: lived.length > MOST_LIVED ? `All ${lived.length} in its life` : 'Its life in full',
    once: given.once,
    decisions: given.decisions.map(decisionView),
    hasMarks: part.kind === 'conductor',
    insertWords: part.kind === 'conductor' ? 'Cut it and put something between' : 'Put something in line with it',
  }
}

/** "4.2 A left; relay R7 gives way first." */
function leadOf(given: { facts: BranchFacts; name: (key: string) => string; over: boolean }): string {
  const { headroom } = given.facts
  const rule = headroom.rule === null ? '' : ruleTitle(headroom.rule).toLowerCase()
  if (headroom.limitedBy !== null && headroom.current_A !== null)
    return headroom.current_A === 0
      ? `Nothing left: ${given.name(headroom.limitedBy)} is at its limit (${rule}).`
      : `${figure(headroom.current_A, 'A')} left; ${given.name(headroom.limitedBy)} gives way first (${rule}).`
  return given.over ? 'Nothing left here.' : 'How much is left here cannot be said.'
}
