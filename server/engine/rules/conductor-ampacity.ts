import { ampacityFigures, conductorLimit } from '../conductor-limit.ts'
import { defineRule } from './rule.ts'

export const conductorAmpacity = defineRule({
  id: 'conductor-ampacity',
  title: 'Conductor ampacity',
  why: 'A conductor that carries more than its ampacity runs hotter than its insulation is made for.',
  formula: 'I per conductor ≤ I30(A, Tc)·√((Tr − Ta)/(Tc − 30))·bundle',
  limits: 'Tight above 80 % of the ampacity, over above it. With the ambient at the insulation’s rating or above, any current is over.',
  judgedIn: 'condition',
  appliesTo: ['conductor'],
  needs: ['crossSection_mm2', 'insulation_degC', 'zone ambient'],
  sources: [
    { title: '33 CFR 183.425 Table 5', place: 'allowable amperage of conductors', grade: 'read' },
    { title: 'NEC 310.15(B)(2)', place: 'ambient correction, √((Tr − Ta)/(Tr − 30))', grade: 'read' },
    { title: '33 CFR 183.425 note 2', place: 'bundle factors', grade: 'memory' },
  ],
  remedy: 'Fit a larger conductor, a better insulation or a second one beside it, or take load off.',
  read: ({ circuit, solved, component }) => {
    // Cranking motor conductors are exempt: 33 CFR 183.425.
    if (solved.condition.engine === 'cranking' && circuit.isStarterPath(component)) return null
    const value = solved.rms_A(component)
    const { ampacity_A, missing, grades, defaults } = conductorLimit(circuit, component)
    return {
      value,
      limit: ampacity_A,
      unit: 'A',
      missing,
      atLeastBecause: solved.unknownLoads(component),
      grades,
      defaults,
      subject: `${circuit.component(component).name} carries`,
      limitIs: 'ampacity',
      worked() {
        return [
          { name: 'current in one conductor, I', value, unit: 'A' },
          ...ampacityFigures(circuit, component),
          { name: 'ampacity', value: ampacity_A, unit: 'A' },
        ]
      },
    }
  },
})
