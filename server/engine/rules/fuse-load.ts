import { fuseFactor } from '../tables/fuse-re-rating.ts'
import { defineRule, workedRating } from './rule.ts'

export const fuseLoad = defineRule({
  id: 'fuse-load',
  title: 'Load on a fuse or breaker',
  why: 'A fuse run near its rating ages and opens with nothing wrong; a hot one sooner.',
  formula: 'steady current ≤ rating × temperature factor; tight above 75 %',
  limits: 'Tight above 75 % of the rating at its ambient (not while cranking, which lasts seconds), over above the rating.',
  judgedIn: 'condition',
  appliesTo: ['fuse', 'breaker'],
  needs: ['rated_A', 'zone ambient'],
  sources: [
    { title: 'Fuse selection guide', place: 'at most 75 % of rating steadily at 25 °C', grade: 'read' },
    { title: 'Type E and F data sheets as transcribed', place: 're-rating by ambient', grade: 'read' },
  ],
  remedy: 'Share the load over two fuses, or fit a larger fuse where the conductor allows it.',
  read: ({ circuit, solved, component }) => {
    const rated = circuit.rating(component, 'rated_A')
    const ambient = circuit.ambient_degC(component)
    const form = circuit.rawRating(component, 'form')
    const factor = ambient ? fuseFactor(typeof form === 'string' ? form : null, ambient.value) : null
    const value = absolute(solved.current_A(component))
    const missing = [
      rated ? '' : 'rated current',
      ambient ? '' : 'ambient temperature of its zone',
      ambient && factor === null ? `temperature factor at ${ambient.value} °C` : '',
    ].filter((one) => one !== '')
    return {
      value,
      // Even without an ambient the bare rating cannot be passed.
      limit: rated ? rated.value * (factor ?? 1) : null,
      unit: 'A',
      // What ages a link takes hours; cranking lasts seconds.
      tightAbove: solved.condition.engine === 'cranking' ? null : 0.75,
      missing,
      overStands: true,
      atLeastBecause: solved.unknownLoads(component),
      grades: [rated?.grade ?? 'assumed', ambient?.grade ?? 'assumed', ...(form === 'C' ? (['typical'] as const) : [])],
      subject: `${circuit.component(component).name} carries`,
      limitIs: factor !== null && factor < 1 ? 'rating at that ambient' : 'rating',
      worked() {
        return [
          { name: 'steady current', value, unit: 'A' },
          workedRating('rating', rated, 'A'),
          workedRating('ambient', ambient, '°C'),
          { name: 'temperature factor', value: factor, unit: '' },
        ]
      },
    }
  },
})

function absolute(value: number | null): number | null {
  return value === null ? null : Math.abs(value)
}
