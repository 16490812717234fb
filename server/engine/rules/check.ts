/** Compares readings with limits and decides verdicts: the only place that does. Long because nothing else may. */
import type { Circuit, SolvedCondition } from '../circuit.ts'
import { circuitOf, type SolvedCircuit } from '../circuit-of.ts'
import { conditionReports } from '../condition-report.ts'
import type { Finding, Report, Verdict } from '../report.ts'
import type { Grade, VehicleDocument } from '../vehicle.ts'
import { figure } from './figure.ts'
import { rules } from './index.ts'
import { ratingEvidence } from './rating-evidence.ts'
import type { Reading, Rule } from './rule.ts'
import { sentence } from './sentence.ts'

/** Raised whenever a verdict may come out differently for the same document. */
export const CHECK_VERSION = '5'

/** At the limit passes; float noise of the solution is not a verdict. */
const AT_LIMIT = 1 + 1e-9

/** How grave a verdict is. */
export const RANK: Readonly<Record<Verdict, number>> = { over: 3, tight: 2, unknown: 1, clear: 0 }
const POORNESS: Readonly<Record<Grade, number>> = { datasheet: 0, marked: 1, measured: 2, typical: 3, assumed: 4 }
const NOTHING: readonly string[] = []

/** The report on a vehicle document: its conditions solved and every rule's findings, worst first. */
export function checkVehicle(doc: VehicleDocument, options: { readonly conductorTemperature_degC?: number | undefined } = {}): Report {
  return checkCircuit(circuitOf(doc, options))
}

/** The same for a circuit already solved. */
export function checkCircuit(circuit: SolvedCircuit): Report {
  return {
    format: 'loombook-report/1',
    asOf: circuit.doc.asOf ?? null,
    version: CHECK_VERSION,
    conditions: conditionReports(circuit),
    findings: findingsOf(circuit),
  }
}

/** One rule's finding on one component; null where it has nothing to judge there. */
export function findingAt(given: { readonly circuit: Circuit; readonly rule: string; readonly component: string }): Finding | null {
  const { circuit, component } = given
  const rule = rules.find((one) => one.id === given.rule)
  const worst = rule?.appliesTo.includes(circuit.kindOf(component)) ? worstOf(circuit, rule, component) : null
  return rule && worst ? findingOf(rule, component, worst) : null
}

/** Every rule's findings alone, worst first. */
export function findingsOf(circuit: SolvedCircuit): readonly Finding[] {
  const byRule = new Map<string, Finding[]>()
  const doubtful = new Map<string, Finding>()
  for (const rule of rules) {
    const findings: Finding[] = []
    byRule.set(rule.id, findings)
    for (const component of circuit.componentsOf(...rule.appliesTo)) {
      const worst = worstOf(circuit, rule, component)
      if (!worst) continue
      const finding = findingOf(rule, component, worst)
      findings.push(finding)
      if (restsOnAssumption(finding, worst.reading) && (finding.used as number) > (doubtful.get(component)?.used ?? -1))
        doubtful.set(component, finding)
    }
  }
  byRule.set(
    ratingEvidence.id,
    [...doubtful.values()].sort((a, b) => (a.component < b.component ? -1 : 1)).map((finding) => evidenceFinding(circuit, finding)),
  )
  return worstFirst(byRule)
}

type Judged = {
  readonly solved: SolvedCondition
  readonly reading: Reading
  readonly verdict: Verdict
  /** share of the limit used; infinite where any value at all passes the limit */
  readonly used: number | null
  readonly missing: readonly string[]
}

/** The worst condition of one rule on one component, or null where there is nothing to judge. */
function worstOf(circuit: Circuit, rule: Rule, component: string): Judged | null {
  let worst: Judged | null = null
  for (const solved of circuit.conditions) {
    if (rule.judgedIn !== 'condition' && solved !== circuit.conditions[0]) break
    worst = worse(worst, worstIn(circuit, rule, { solved, component }))
  }
  return worst
}

/** The reading that is told of one rule on one component in one condition; null where there is nothing to judge. */
export function readingAt(
  circuit: Circuit,
  rule: Rule,
  at: { readonly solved: SolvedCondition; readonly component: string },
): Reading | null {
  return worstIn(circuit, rule, at)?.reading ?? null
}

function worstIn(circuit: Circuit, rule: Rule, at: { readonly solved: SolvedCondition; readonly component: string }): Judged | null {
  const { solved, component } = at
  const read = rule.read({ circuit, solved, component })
  if (!read) return null
  if (!isSeveral(read)) return judge(circuit, { rule, component, solved, reading: read })
  let worst: Judged | null = null
  const missing: string[] = []
  for (const reading of read) {
    const judged = judge(circuit, { rule, component, solved, reading })
    missing.push(...judged.missing)
    if (worst && isLessKnown(worst, judged)) continue
    worst = !worst || isLessKnown(judged, worst) ? judged : worse(worst, judged)
  }
  // One of several that are not known would still leave it unknown: all of it is asked for.
  return worst?.verdict === 'unknown' ? { ...worst, missing } : worst
}

function isSeveral(read: Reading | readonly Reading[]): read is readonly Reading[] {
  return Array.isArray(read)
}

/** Of two the graver, then the one that uses more of its limit, then the first. */
function worse(one: Judged | null, other: Judged | null): Judged | null {
  if (!one || !other) return one ?? other
  if (one.verdict !== other.verdict) return RANK[other.verdict] > RANK[one.verdict] ? other : one
  return usesMore(other, one) ? other : one
}

/** Of two readings not known the one that has no figure is told, since that figure is what to find out first. */
function isLessKnown(one: Judged, other: Judged): boolean {
  return one.verdict === 'unknown' && other.verdict === 'unknown' && one.used === null
}

function usesMore(one: Judged, other: Judged): boolean {
  return one.used !== null && (other.used === null || one.used > other.used * AT_LIMIT)
}

function judge(circuit: Circuit, given: { rule: Rule; component: string; solved: SolvedCondition; reading: Reading }): Judged {
  const { rule, component, solved, reading } = given
  const used = shareUsed(reading)
  let missing = reading.missing ?? NOTHING
  if (rule.judgedIn === 'condition' && !solved.solved && reading.value === null) missing = [...missing, 'a working point in this condition']
  const because = reading.atLeastBecause ?? NOTHING
  let verdict = compare({ reading, used, isMissing: missing.length > 0, isAtLeast: because.length > 0 })
  if (verdict === 'over' && reading.atMost === 'tight') verdict = 'tight'
  if (verdict === 'unknown') missing = [...missing, ...because.map((load) => `current of ${circuit.component(load)?.name ?? load}`)]
  // Wiring that is not entered yet changes nothing about the part itself.
  if (verdict === 'clear' && rule.judgedIn !== 'part') {
    const unfinished = circuit.unfinishedNear(component)
    if (unfinished.length > 0) {
      verdict = 'unknown'
      missing = [...missing, ...unfinished]
    }
  }
  return { solved, reading, verdict, used, missing }
}

/** The one comparison of a value with a limit. */
function compare(given: { reading: Reading; used: number | null; isMissing: boolean; isAtLeast: boolean }): Verdict {
  const { reading, used, isMissing, isAtLeast } = given
  if (reading.fails) return 'over'
  if (used !== null && used > (reading.overAbove ?? 1) * AT_LIMIT && (!isMissing || reading.overStands)) return 'over'
  if (reading.holds && !isMissing && !isAtLeast) return 'clear'
  if (isMissing || used === null || isAtLeast) return 'unknown'
  const tightAbove = tightShare(reading)
  return tightAbove !== null && used > tightAbove * AT_LIMIT ? 'tight' : 'clear'
}

function tightShare(reading: Reading): number | null {
  return reading.tightAbove === undefined ? 0.8 : reading.tightAbove
}

/** Share of the limit used; for an at-least limit, limit ÷ value. A limit of zero is passed by any value at all: infinite. */
function shareUsed(reading: Reading): number | null {
  const { value, limit } = reading
  if (value === null || limit === null) return null
  if (reading.sense === 'at-least') return value > 0 ? limit / value : limit > 0 ? Number.POSITIVE_INFINITY : 0
  if (limit <= 0) return value > 1e-9 ? Number.POSITIVE_INFINITY : 0
  return value / limit
}

function findingOf(rule: Rule, component: string, worst: Judged): Finding {
  const { solved, reading, verdict, used } = worst
  const missing = worst.missing.length > 1 ? [...new Set(worst.missing)] : worst.missing
  return {
    rule: rule.id,
    component,
    condition: solved.condition.key,
    verdict,
    value: reading.value,
    limit: reading.limit,
    unit: reading.unit,
    used: used !== null && Number.isFinite(used) ? used : null,
    tightAbove: tightShare(reading),
    overAbove: reading.overAbove ?? 1,
    says: sentence({ condition: rule.judgedIn === 'condition' ? solved.condition.name : null, reading, verdict, missing }),
    remedy: verdict === 'clear' ? '' : verdict === 'unknown' ? `Find out: ${missing.join('; ')}.` : (reading.remedy ?? rule.remedy),
    missing,
    evidence: poorest(reading.defaults ?? NO_GRADES, poorest(reading.grades)),
    sources: sourcesOf(rule),
  }
}

/**
 * Worst first: by verdict, then by share used (an infinite one first), then by rule and component. Each rule's findings come in the order of
 * their components, so that of equals the order they are put in decides.
 */
function worstFirst(byRule: ReadonlyMap<string, readonly Finding[]>): readonly Finding[] {
  const found: Record<Verdict, Finding[]> = { over: [], tight: [], unknown: [], clear: [] }
  for (const rule of [...byRule.keys()].sort())
    for (const finding of byRule.get(rule) as readonly Finding[]) found[finding.verdict].push(finding)
  for (const alike of Object.values(found)) alike.sort(moreUsed)
  return [...found.over, ...found.tight, ...found.unknown, ...found.clear]
}

function moreUsed(a: Finding, b: Finding): number {
  const first = weight(a)
  const second = weight(b)
  return first === second ? 0 : second - first
}

function weight(finding: Finding): number {
  return finding.used ?? (finding.verdict === 'over' ? Number.POSITIVE_INFINITY : -1)
}

function restsOnAssumption(finding: Finding, reading: Reading): boolean {
  return (
    (finding.verdict === 'clear' || finding.verdict === 'tight') &&
    finding.used !== null &&
    finding.used > 0 &&
    poorest(reading.grades) === 'assumed'
  )
}

/** Good practice: a judged figure rests on `assumed` and more than 60 % of a limit is used. One per component, the most used. */
function evidenceFinding(circuit: Circuit, finding: Finding): Finding {
  const used = finding.used as number
  const tight = used > 0.6 * AT_LIMIT
  return {
    rule: ratingEvidence.id,
    component: finding.component,
    condition: finding.condition,
    verdict: tight ? 'tight' : 'clear',
    value: used * 100,
    limit: 60,
    unit: '%',
    used: used / 0.6,
    tightAbove: 1,
    overAbove: 1,
    says: `${circuit.component(finding.component).name} uses ${figure(used * 100, '%')} of a limit that is only assumed (${finding.rule}).`,
    remedy: tight ? ratingEvidence.remedy : '',
    missing: [],
    evidence: 'assumed',
    sources: sourcesOf(ratingEvidence),
  }
}

const sourceLines = new WeakMap<Rule, readonly string[]>()

function sourcesOf(rule: Rule): readonly string[] {
  const known = sourceLines.get(rule)
  if (known) return known
  const lines = rule.sources.map((source) => `${source.title}, ${source.place} (${source.grade})`)
  sourceLines.set(rule, lines)
  return lines
}

function poorest(grades: readonly Grade[], before: Grade | null = null): Grade {
  let worst = before
  for (const grade of grades) if (worst === null || POORNESS[grade] > POORNESS[worst]) worst = grade
  return worst ?? 'assumed'
}

const NO_GRADES: readonly Grade[] = []
