import { defineRule, workedRating } from './rule.ts'

export const blockLoad = defineRule({
  id: 'block-load',
  title: 'Load on a whole block',
  why: 'The bar, stud or strap that all ways share carries their sum.',
  formula: 'half the sum of the ways’ currents ≤ total_A (rated_A)',
  limits: 'Tight above 80 % of the rating, over above it.',
  judgedIn: 'condition',
  appliesTo: ['block', 'module', 'ground-point', 'splice'],
  needs: ['total_A', 'rated_A'],
  sources: [{ title: 'the part’s own sheet', place: 'rating of the whole', grade: 'read' }],
  remedy: 'Split the loads over two blocks.',
  read: ({ circuit, solved, component }) => {
    const kind = circuit.kindOf(component)
    const ways = circuit.waysOf(component)
    if (ways.length === 0) return null
    const rated = circuit.rating(component, kind === 'block' || kind === 'module' ? 'total_A' : 'rated_A')
    if (!rated && (kind === 'splice' || kind === 'ground-point')) return null
    const currents = kind === 'module' ? ways.filter((way) => way.includes(':out')) : ways
    // What enters a node leaves it: the sum of unsigned way currents counts it twice.
    const value = currents.reduce((sum, way) => sum + (solved.terminalCurrent_A(way) ?? 0), 0) / (kind === 'module' ? 1 : 2)
    return {
      value: solved.solved ? value : null,
      limit: rated?.value ?? null,
      unit: 'A',
      missing: rated ? [] : ['rating of the whole'],
      atLeastBecause: solved.unknownLoads(component),
      grades: [rated?.grade ?? 'assumed'],
      subject: `${circuit.component(component).name} carries in all`,
      limitIs: 'rating',
      worked() {
        return [
          ...currents.map((way) => ({
            name: `way ${way.slice(way.indexOf(':') + 1)}`,
            value: solved.terminalCurrent_A(way),
            unit: 'A',
          })),
          workedRating('rating of the whole', rated, 'A'),
        ]
      },
    }
  },
})
