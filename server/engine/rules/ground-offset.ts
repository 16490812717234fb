import { defineRule } from './rule.ts'

export const groundOffset = defineRule({
  id: 'ground-offset',
  title: 'Ground shared with others',
  why: 'What other loads drop in a shared ground lifts the zero of a sensor or a controller.',
  formula: 'volts dropped in the part of its return that it shares with other loads ≤ 0.1 V',
  limits: 'Tight above 0.1 V; never over. Not judged while cranking, when every ground is lifted.',
  judgedIn: 'condition',
  appliesTo: ['load', 'pump'],
  needs: ['a recorded return', 'resistances on it'],
  sources: [{ title: 'SAE limits as quoted in a workshop manual', place: 'ground side, 0.1 V', grade: 'read' }],
  remedy: 'Take its ground by a wire of its own to the battery or the body’s common point.',
  read: ({ circuit, solved, component }) => {
    if (circuit.rawRating(component, 'nature') !== 'electronic' || solved.condition.engine === 'cranking') return null
    if (!solved.isOn(component) || !circuit.hasReturn(component)) return null
    const loss = solved.lossFor(component)
    if (!loss) return null
    const back = circuit.returnTo({ source: loss.source, load: component })
    const own = back.filter((key) => circuit.loadsBehind(key).length <= 1)
    const own_V = own.reduce((sum, key) => sum + Math.abs(solved.drop_V(key) ?? 0), 0)
    const hollow = solved.unknownResistances(component).filter((key) => back.includes(key))
    return {
      value: Math.max(0, loss.return_V - own_V),
      limit: 0.1,
      unit: 'V',
      tightAbove: null,
      atMost: 'tight',
      missing: hollow.map((key) => `resistance of ${circuit.component(key).name}`),
      overStands: true,
      atLeastBecause: [...new Set(back.flatMap((key) => solved.unknownLoads(key)))],
      grades: circuit.resistanceGrades(component),
      subject: `The ground of ${circuit.component(component).name} is lifted by`,
      limitIs: 'allowance',
      worked() {
        return [
          { name: 'drop of its whole return', value: loss.return_V, unit: 'V' },
          { name: 'of it in wires of its own', value: own_V, unit: 'V' },
        ]
      },
    }
  },
})
