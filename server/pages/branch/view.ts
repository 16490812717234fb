import type { SolvedCircuit } from '../../engine/circuit-of.ts'
import type { BranchFacts, Report } from '../../engine/report.ts'
import { rules } from '../../engine/rules/index.ts'
import type { Component, VehicleDocument } from '../../engine/vehicle.ts'
import type { SavedEntry } from '../../records/contract.ts'
import { dateWords, figure, figureOr } from '../../web/format.ts'
import { type FindingView, figuresOf, findingView } from '../shared/finding-view.ts'

type Step = { readonly name: string; readonly href: string; readonly used: string; readonly verdict: string }
export type View = {
  readonly id: string
  readonly key: string
  readonly name: string
  readonly lead: string
  readonly because: string
  readonly part: string
  readonly partHref: string
  readonly details: readonly string[]
  readonly carries: string
  readonly shares: readonly { readonly name: string; readonly href: string; readonly current: string }[]
  readonly feed: readonly Step[]
  readonly back: readonly Step[]
  readonly findings: readonly FindingView[]
  readonly terminals: readonly { readonly terminal: string; readonly volts: string; readonly to: string }[]
  readonly history: readonly { readonly id: string; readonly when: string; readonly title: string }[]
  readonly asOf: string
  readonly isToday: boolean
}

export function view(given: {
  readonly vehicle: { readonly id: string }
  readonly day: { readonly on: string; readonly isToday: boolean }
  readonly judged: { readonly document: VehicleDocument; readonly report: Report }
  readonly component: Component
  readonly circuit: SolvedCircuit
  readonly facts: BranchFacts
  readonly history: readonly SavedEntry[]
}): View {
  const { vehicle, day, judged, component, circuit, facts, history } = given
  const query = day.isToday ? '' : `?on=${day.on}`
  const name = (key: string) => judged.document.components.find((one) => one.key === key)?.name ?? key
  const href = (key: string) => `/vehicles/${vehicle.id}/components/${key}${query}`
  const part = circuit.part(component.key)
  const solved = circuit.conditions.find((one) => one.condition.key === facts.condition)
  const step = (key: string): Step => {
    const finding = judged.report.findings.find((one) => one.component === key && one.rule !== 'rating-evidence')
    return { name: name(key), href: href(key), used: finding ? figuresOf(finding) : '', verdict: finding?.verdict ?? '' }
  }
  const terminals = [
    ...new Set(judged.document.joins.flatMap((join) => [join.from, join.to]).filter((end) => end.startsWith(`${component.key}:`))),
  ].sort()
  return {
    id: vehicle.id,
    key: component.key,
    name: component.name,
    lead: leadOf({
      facts,
      name,
      over: judged.report.findings.some((finding) => finding.component === component.key && finding.verdict === 'over'),
    }),
    because: facts.headroom.because.length > 0 ? `Not counted, because it is not known: ${facts.headroom.because.join('; ')}.` : '',
    part: `${part.name} (${part.kind})`,
    partHref: `/parts/${part.key}`,
    details: [
      component.length_m === undefined ? '' : `${component.length_m} m`,
      component.zone ? (judged.document.zones?.find((zone) => zone.key === component.zone)?.name ?? '') : 'no zone said',
      component.parallel ? `${component.parallel} side by side` : '',
    ].filter((one) => one !== ''),
    carries: `${figureOr(facts.current_A === null ? null : Math.abs(facts.current_A), 'A')}${solved ? ` (${solved.condition.name})` : ''}`,
    shares: facts.shares.map((share) => ({
      name: share.load === null ? 'between sources' : name(share.load),
      href: share.load === null ? '' : href(share.load),
      current: share.unknown ? 'not known' : figure(Math.abs(share.current_A), 'A'),
    })),
    feed: facts.feedPath.map(step),
    back: facts.returnPath.map(step),
    findings: judged.report.findings
      .filter((finding) => finding.component === component.key)
      .map((finding) => findingView(finding, { vehicleId: vehicle.id, name })),
    terminals: terminals.map((terminal) => ({
      terminal: terminal.slice(component.key.length + 1),
      volts: figureOr(solved?.voltage_V(terminal) ?? null, 'V'),
      to: judged.document.joins
        .flatMap((join) => (join.from === terminal ? [join.to] : join.to === terminal ? [join.from] : []))
        .map((other) => `${name(other.slice(0, other.indexOf(':')))} ${other.slice(other.indexOf(':') + 1)}`)
        .join(', '),
    })),
    history: history.map((entry) => ({ id: entry.id, when: dateWords(entry.effectiveOn), title: entry.title })),
    asOf: dateWords(day.on),
    isToday: day.isToday,
  }
}

/** "4.2 A left; relay R7 gives way first." */
function leadOf(given: { facts: BranchFacts; name: (key: string) => string; over: boolean }): string {
  const { headroom } = given.facts
  const rule = rules.find((one) => one.id === headroom.rule)?.title.toLowerCase() ?? ''
  if (headroom.limitedBy !== null && headroom.current_A !== null)
    return headroom.current_A === 0
      ? `Nothing left: ${given.name(headroom.limitedBy)} is past its limit (${rule}).`
      : `${figure(headroom.current_A, 'A')} left; ${given.name(headroom.limitedBy)} gives way first (${rule}).`
  return given.over ? 'Nothing left here.' : 'How much is left here cannot be said.'
}
