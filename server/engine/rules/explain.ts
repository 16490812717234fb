/** How a finding was worked out: the figures its rule put into its formula, read once more. */
import type { Circuit } from '../circuit.ts'
import type { Finding } from '../report.ts'
import { readingAt } from './check.ts'
import { rules } from './index.ts'
import type { Worked } from './rule.ts'

/** The figures behind a finding of this circuit, in the formula's order; empty where the rule compares none. */
export function figuresBehind(given: {
  readonly circuit: Circuit
  readonly finding: Pick<Finding, 'rule' | 'component' | 'condition'>
}): readonly Worked[] {
  const { circuit, finding } = given
  const rule = rules.find((one) => one.id === finding.rule)
  const solved = circuit.conditions.find((one) => one.condition.key === finding.condition)
  if (!rule || !solved) return []
  return readingAt(circuit, rule, { solved, component: finding.component })?.worked?.() ?? []
}
