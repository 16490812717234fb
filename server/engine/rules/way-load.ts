import { defineRule, type Reading } from './rule.ts'

export const wayLoad = defineRule({
  id: 'way-load',
  title: 'Load on one way',
  why: 'Each stud, screw or output has a rating of its own, below the block’s.',
  formula: 'current of one way ≤ way_A (channel_A)',
  appliesTo: ['block', 'module'],
  needs: ['way_A', 'channel_A'],
  sources: [{ title: 'the part’s own sheet', place: 'rating of one way', grade: 'read' }],
  remedy: 'Move some of it to another way.',
  read: ({ circuit, solved, component }) => {
    const isModule = circuit.kindOf(component) === 'module'
    const rated = circuit.rating(component, isModule ? 'channel_A' : 'way_A')
    const ways = waysOf(circuit, component).filter((terminal) => !isModule || terminal.includes(':out'))
    const incoming = isModule ? null : incomingWay(circuit, solved, component, ways)
    const readings = ways
      // The way that feeds the block carries its whole current: the sum rule judges it.
      .filter((terminal) => terminal !== incoming)
      .map(
        (terminal): Reading => ({
          value: solved.terminalCurrent_A(terminal),
          limit: rated?.value ?? null,
          unit: 'A',
          missing: rated ? [] : ['rating of one way'],
          atLeastBecause: solved.unknownLoads(component),
          grades: [rated?.grade ?? 'assumed', ...(solved.terminalAssumed(terminal) ? (['assumed'] as const) : [])],
          subject: `${circuit.component(component).name}, way ${terminal.slice(terminal.indexOf(':') + 1)}, carries`,
          limitIs: 'rating of one way',
        }),
      )
    return readings.sort((a, b) => (b.value ?? 0) - (a.value ?? 0))[0] ?? null
  },
})

/** Terminals of a component that a join names. */
export function waysOf(circuit: import('../circuit.ts').Circuit, component: string): readonly string[] {
  return [...new Set(circuit.doc.joins.flatMap((join) => [join.from, join.to]).filter((end) => end.startsWith(`${component}:`)))].sort()
}

function incomingWay(
  circuit: import('../circuit.ts').Circuit,
  solved: import('../circuit.ts').SolvedCondition,
  component: string,
  ways: readonly string[],
): string | null {
  const total = ways.reduce((sum, way) => sum + (solved.terminalCurrent_A(way) ?? 0), 0)
  const largest = [...ways].sort((a, b) => (solved.terminalCurrent_A(b) ?? 0) - (solved.terminalCurrent_A(a) ?? 0))[0]
  if (largest === undefined || circuit.componentsOf('block').length === 0) return null
  return (solved.terminalCurrent_A(largest) ?? 0) >= total / 2 - 1e-6 ? largest : null
}
