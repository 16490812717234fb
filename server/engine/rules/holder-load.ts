import { defineRule, workedRating } from './rule.ts'

export const holderLoad = defineRule({
  id: 'holder-load',
  title: 'Load on a holder or socket',
  why: 'A holder’s springs carry what its fuse or relay does; a larger fuse does not make the holder larger.',
  formula: 'steady current ≤ holder_A',
  limits: 'Tight above 80 % of the holder’s rating, over above it.',
  judgedIn: 'condition',
  appliesTo: ['fuse', 'breaker', 'relay'],
  needs: ['holder_A, where the part sits in a holder'],
  sources: [{ title: 'the holder’s own sheet', place: 'rated current', grade: 'read' }],
  remedy: 'Fit a holder of a higher rating, or take load off.',
  read: ({ circuit, solved, component }) => {
    const rated = circuit.rating(component, 'holder_A')
    if (!rated) return null
    const current_A = solved.current_A(component)
    const value = current_A === null ? null : Math.abs(current_A)
    return {
      value,
      limit: rated.value,
      unit: 'A',
      atLeastBecause: solved.unknownLoads(component),
      grades: [rated.grade],
      subject: `The holder of ${circuit.component(component).name} carries`,
      limitIs: 'rating',
      worked() {
        return [{ name: 'steady current', value, unit: 'A' }, workedRating('rating of the holder', rated, 'A')]
      },
    }
  },
})
