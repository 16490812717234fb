import type { Circuit } from '../circuit.ts'
import { defineRule, type Reading, workedRating } from './rule.ts'

export const wayLoad = defineRule({
  id: 'way-load',
  title: 'Load on one way',
  why: 'Each stud, screw or output has a rating of its own, below the block’s.',
  formula: 'current of one way ≤ way_A (channel_A)',
  limits: 'Tight above 80 % of the rating, over above it.',
  judgedIn: 'condition',
  appliesTo: ['block', 'module'],
  needs: ['way_A', 'channel_A'],
  sources: [{ title: 'the part’s own sheet', place: 'rating of one way', grade: 'read' }],
  remedy: 'Move some of it to another way.',
  read: ({ circuit, solved, component }) => {
    const isModule = circuit.kindOf(component) === 'module'
    const rated = circuit.rating(component, isModule ? 'channel_A' : 'way_A')
    const ways = circuit.waysOf(component).filter((terminal) => !isModule || terminal.includes(':out'))
    const whole = isModule ? null : wholeWay(circuit, component)
    let terminal: string | null = null
    let value = -1
    for (const way of ways) {
      // The way that brings the block all of its current is judged with the block.
      const current_A = way === whole ? null : solved.terminalCurrent_A(way)
      if (current_A === null || current_A <= value) continue
      terminal = way
      value = current_A
    }
    if (terminal === null) return solved.solved || ways.length === 0 ? null : unsolved(circuit, component)
    return {
      value,
      limit: rated?.value ?? null,
      unit: 'A',
      missing: rated ? [] : ['rating of one way'],
      atLeastBecause: solved.unknownLoads(component),
      grades: [rated?.grade ?? 'assumed', ...(solved.terminalAssumed(terminal) ? (['assumed'] as const) : [])],
      subject: `${circuit.component(component).name}, way ${terminal.slice(terminal.indexOf(':') + 1)}, carries`,
      limitIs: 'rating of one way',
      worked() {
        return [
          { name: 'most loaded way', value: terminal.slice(terminal.indexOf(':') + 1), unit: '' },
          { name: 'its current', value, unit: 'A' },
          workedRating('rating of one way', rated, 'A'),
        ]
      },
    }
  },
})

/** The one way behind which all of the block's loads lie, where no other way shares them; null in a mesh or a plain joint. */
function wholeWay(circuit: Circuit, component: string): string | null {
  const all = circuit.loadsBehind(component).length
  const whole = circuit.waysOf(component).filter((way) => circuit.loadsBehindWay(way).length === all)
  return whole.length === 1 ? (whole[0] as string) : null
}

function unsolved(circuit: Circuit, component: string): Reading {
  return { value: null, limit: null, unit: 'A', grades: ['assumed'], subject: `${circuit.component(component).name}, one way, carries` }
}
