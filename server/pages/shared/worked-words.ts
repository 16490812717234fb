/** How a finding was worked out, in rows: the figures that went in, and the value beside its limit. */
import type { SolvedCircuit } from '../../engine/circuit-of.ts'
import type { Finding } from '../../engine/report.ts'
import { readingAt } from '../../engine/rules/check.ts'
import type { Reading, Rule, Worked } from '../../engine/rules/rule.ts'
import { figure } from '../../web/format.ts'
import { closeFigure } from './close-figure.ts'
import { isInked } from './finding-view.ts'
import { capital } from './rule-words.ts'

export type WorkedRow = {
  readonly name: string
  readonly value: string
  readonly isWord: boolean
  readonly grade: string
  readonly inked: boolean
}
export type ResultRow = { readonly label: string; readonly value: string }

export const EVIDENCE: Readonly<Record<Finding['evidence'], string>> = {
  datasheet: 'figures from a datasheet',
  marked: 'figures marked on the part',
  measured: 'measured figures',
  typical: 'typical figures',
  assumed: 'assumed figures',
}

/** What the rule reads in each condition; null where there is nothing for it to judge. */
export function readingsOf(given: { readonly circuit: SolvedCircuit; readonly rule: Rule; readonly component: string }) {
  const { circuit, rule, component } = given
  return circuit.conditions.map((solved) => ({
    key: solved.condition.key,
    name: solved.condition.name,
    reading: readingAt(circuit, rule, { solved, component }),
  }))
}

export function rowOf(one: Worked): WorkedRow {
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
export function resultOf(finding: Finding, reading: Reading | null): readonly ResultRow[] {
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
