/** Compares readings with limits and decides verdicts: the only place that does. */
import type { Circuit, SolvedCondition } from '../circuit.ts'
import { circuitOf, type SolvedCircuit } from '../circuit-of.ts'
import { splitTerminal } from '../network.ts'
import type { ComponentReport, ConditionReport, Finding, Report, Verdict } from '../report.ts'
import type { Grade, VehicleDocument } from '../vehicle.ts'
import { figure } from './figure.ts'
import { rules } from './index.ts'
import { ratingEvidence } from './rating-evidence.ts'
import type { Reading, Rule } from './rule.ts'

/** Raised whenever a verdict may come out differently for the same document. */
export const CHECK_VERSION = '1'

/** At the limit passes; float noise of the solution is not a verdict. */
const AT_LIMIT = 1 + 1e-9

const RANK: Readonly<Record<Verdict, number>> = { over: 3, tight: 2, unknown: 1, clear: 0 }
const GRADE_ORDER: readonly Grade[] = ['datasheet', 'marked', 'measured', 'typical', 'assumed']

/** The report on a vehicle document: its conditions solved and every rule's findings, worst first. */
export function checkVehicle(doc: VehicleDocument, options: { readonly conductorTemperature_degC?: number | undefined } = {}): Report {
  return checkCircuit(circuitOf(doc, options))
}

/** The same for a circuit already solved. */
export function checkCircuit(circuit: SolvedCircuit): Report {
  const findings = rules.flatMap((rule) =>
    circuit.componentsOf(...rule.appliesTo).flatMap((component) => judge({ circuit, rule, component }) ?? []),
  )
  const all = [...findings, ...evidenceFindings(circuit, findings)]
  all.sort(
    (a, b) =>
      RANK[b.verdict] - RANK[a.verdict] ||
      (b.used ?? -1) - (a.used ?? -1) ||
      (a.rule < b.rule ? -1 : a.rule > b.rule ? 1 : 0) ||
      (a.component < b.component ? -1 : 1),
  )
  return {
    format: 'loombook-report/1',
    asOf: circuit.doc.asOf ?? null,
    version: CHECK_VERSION,
    conditions: circuit.conditions.map((solved) => conditionReport(circuit, solved)),
    findings: all,
  }
}

/** The worst condition's finding of one rule on one component, or null where there is nothing to judge. */
function judge(given: { circuit: Circuit; rule: Rule; component: string }): Finding | null {
  const { circuit, rule, component } = given
  let worst: Finding | null = null
  for (const solved of circuit.conditions) {
    const reading = rule.read({ circuit, solved, component })
    if (!reading) continue
    const finding = findingOf({ circuit, rule, component, solved, reading })
    if (
      !worst ||
      RANK[finding.verdict] > RANK[worst.verdict] ||
      (finding.verdict === worst.verdict && (finding.used ?? -1) > (worst.used ?? -1))
    )
      worst = finding
  }
  return worst
}

function findingOf(given: { circuit: Circuit; rule: Rule; component: string; solved: SolvedCondition; reading: Reading }): Finding {
  const { circuit, rule, component, solved, reading } = given
  const used = shareUsed(reading)
  const tightAbove = reading.tightAbove === undefined ? 0.8 : reading.tightAbove
  const overAbove = reading.overAbove ?? 1
  const because = (reading.atLeastBecause ?? []).map((load) => circuit.component(load)?.name ?? load)
  const missing = [...(reading.missing ?? [])]
  if (!solved.solved && reading.value === null) missing.push('a working point in this condition')
  let verdict: Verdict
  if (reading.fails) verdict = 'over'
  else if (used !== null && used > overAbove * AT_LIMIT && (missing.length === 0 || reading.overStands)) verdict = 'over'
  else if (missing.length > 0 || used === null) verdict = 'unknown'
  else if (because.length > 0) verdict = 'unknown'
  else if (tightAbove !== null && used > tightAbove * AT_LIMIT) verdict = 'tight'
  else verdict = 'clear'
  if (verdict === 'over' && reading.atMost === 'tight') verdict = 'tight'
  if (verdict === 'unknown') missing.push(...because.map((name) => `current of ${name}`))
  if (verdict === 'clear') {
    const unfinished = circuit.unfinishedNear(component)
    if (unfinished.length > 0) {
      verdict = 'unknown'
      missing.push(...unfinished)
    }
  }
  return {
    rule: rule.id,
    component,
    condition: solved.condition.key,
    verdict,
    value: reading.value,
    limit: reading.limit,
    unit: reading.unit,
    used,
    tightAbove,
    overAbove,
    says: sentence({ solved, reading, verdict, missing, atLeast: because.length > 0 }),
    remedy: verdict === 'clear' ? '' : verdict === 'unknown' ? `Find out: ${missing.join('; ')}.` : (reading.remedy ?? rule.remedy),
    missing: [...new Set(missing)],
    evidence: poorest(reading.grades),
    sources: rule.sources.map((source) => `${source.title}, ${source.place} (${source.grade})`),
  }
}

/** Share of the limit used; for an at-least limit, limit ÷ value. A limit of zero is passed by any current at all. */
function shareUsed(reading: Reading): number | null {
  const { value, limit } = reading
  if (value === null || limit === null) return null
  if (reading.sense === 'at-least') return value > 0 ? limit / value : Number.MAX_VALUE
  if (limit <= 0) return value > 1e-9 ? Number.MAX_VALUE : 0
  return value / limit
}

function sentence(given: {
  solved: SolvedCondition
  reading: Reading
  verdict: Verdict
  missing: readonly string[]
  atLeast: boolean
}): string {
  const { solved, reading, missing, verdict } = given
  if (reading.statement !== undefined) return reading.statement
  const when = ` (${solved.condition.name})`
  if (reading.value === null)
    return `${reading.subject} an unknown ${reading.unit === 'V' ? 'voltage' : 'current'}: ${missing.join(', ')} not known.`
  const value = `${given.atLeast ? 'at least ' : ''}${figure(reading.value, reading.unit)}`
  if (reading.limit === null) return `${reading.subject} ${value}; not known: ${missing.join(', ')}${when}.`
  const against =
    reading.sense === 'at-least'
      ? ` against a ${reading.limitIs ?? 'limit'} of ${figure(reading.limit, reading.unit)}`
      : ` of its ${figure(reading.limit, reading.unit)} ${reading.limitIs ?? 'limit'}`
  const open = verdict === 'unknown' && missing.length > 0 ? ` Not known: ${missing.join(', ')}.` : ''
  return `${reading.subject} ${value}${against}${when}.${open}`
}

/** Good practice: a judged figure rests on `assumed` and more than 60 % of a limit is used. One per component, the most used. */
function evidenceFindings(circuit: Circuit, findings: readonly Finding[]): readonly Finding[] {
  const byComponent = new Map<string, Finding>()
  for (const finding of findings) {
    if (finding.verdict === 'unknown' || finding.used === null || finding.evidence !== 'assumed') continue
    const before = byComponent.get(finding.component)
    if (!before || finding.used > (before.used ?? 0)) byComponent.set(finding.component, finding)
  }
  return [...byComponent.values()].map((finding) => {
    const used = finding.used as number
    const name = circuit.component(finding.component).name
    const tight = used > 0.6 * AT_LIMIT
    return {
      rule: ratingEvidence.id,
      component: finding.component,
      condition: finding.condition,
      verdict: tight ? 'tight' : 'clear',
      value: Math.min(used, 1e6) * 100,
      limit: 60,
      unit: '%',
      used: Math.min(used, 1e6) / 0.6,
      tightAbove: 1,
      overAbove: 1,
      says: `${name} uses ${figure(Math.min(used, 1e6) * 100, '%')} of a limit that is only assumed (${finding.rule}).`,
      remedy: tight ? ratingEvidence.remedy : '',
      missing: [],
      evidence: 'assumed',
      sources: ratingEvidence.sources.map((source) => `${source.title}, ${source.place} (${source.grade})`),
    }
  })
}

function conditionReport(circuit: SolvedCircuit, solved: SolvedCondition): ConditionReport {
  const terminals_V: Record<string, number | null> = {}
  const joined = new Set(circuit.doc.joins.flatMap((join) => [join.from, join.to]))
  for (const terminal of [...circuit.network.terminals].sort())
    if (joined.has(terminal) || circuit.network.elementsOf.get(splitTerminal(terminal).component)?.length)
      terminals_V[terminal] = solved.voltage_V(terminal)
  const components: Record<string, ComponentReport> = {}
  for (const key of circuit.network.components.keys()) {
    if ((circuit.network.elementsOf.get(key) ?? []).length === 0) continue
    const unknown = solved.unknownLoads(key)
    components[key] = {
      current_A: solved.current_A(key),
      drop_V: solved.drop_V(key),
      temperature_degC: solved.temperature_degC(key),
      atLeast: unknown.length > 0,
      atMost_A: unknown.length > 0 ? mostThrough(circuit, key) : null,
    }
  }
  return {
    key: solved.condition.key,
    name: solved.condition.name,
    solved: solved.solved,
    faults: solved.faults,
    unfed: solved.unfed,
    terminals_V,
    components,
  }
}

/** The smallest fuse on the way: shown as an upper bound, never judged. */
function mostThrough(circuit: Circuit, component: string): number | null {
  const source = circuit.sourcesOf(component)[0]
  if (source === undefined) return null
  const ratings = [...circuit.devicesBetween(source, component), component].flatMap((key) =>
    ['fuse', 'breaker'].includes(circuit.kindOf(key)) ? [circuit.rating(key, 'rated_A')?.value ?? Number.POSITIVE_INFINITY] : [],
  )
  const least = Math.min(...ratings)
  return Number.isFinite(least) ? least : null
}

function poorest(grades: readonly Grade[]): Grade {
  return GRADE_ORDER[Math.max(...grades.map((grade) => GRADE_ORDER.indexOf(grade)))] ?? 'assumed'
}
