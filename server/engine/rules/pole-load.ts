import { defineRule, workedRating } from './rule.ts'

export const poleLoad = defineRule({
  id: 'pole-load',
  title: 'Load on one pole of a connector',
  why: 'One contact pair carries its own current, however many poles stand idle beside it.',
  formula: 'current of the most loaded pole ≤ pole_A',
  limits: 'Tight above 80 % of the rating of one pole, over above it.',
  judgedIn: 'condition',
  appliesTo: ['connector'],
  needs: ['pole_A'],
  sources: [{ title: 'the part’s own sheet', place: 'rating of one pole', grade: 'read' }],
  remedy: 'Share the load over two poles, or fit a connector with larger contacts.',
  read: ({ circuit, solved, component }) => {
    const rated = circuit.rating(component, 'pole_A')
    const poles = circuit.waysOf(component).flatMap((terminal) => {
      const current_A = solved.terminalCurrent_A(terminal)
      return current_A === null ? [] : [{ terminal, current_A }]
    })
    const most = poles.reduce<(typeof poles)[number] | null>((a, b) => (a && a.current_A >= b.current_A ? a : b), null)
    if (circuit.waysOf(component).length === 0) return null
    const pole = most ? (/:(\d+)/.exec(most.terminal)?.[1] ?? '') : ''
    return {
      value: most?.current_A ?? null,
      limit: rated?.value ?? null,
      unit: 'A',
      missing: rated ? [] : ['rating of one pole'],
      atLeastBecause: solved.unknownLoads(component),
      grades: [rated?.grade ?? 'assumed', ...(most && solved.terminalAssumed(most.terminal) ? (['assumed'] as const) : [])],
      subject: `${circuit.component(component).name}, pole ${pole}, carries`,
      limitIs: 'rating of one pole',
      worked() {
        return [
          { name: `current of pole ${pole}`, value: most?.current_A ?? null, unit: 'A' },
          workedRating('rating of one pole', rated, 'A'),
        ]
      },
    }
  },
})
