import { wayDoubts } from '../way-doubts.ts'
import { defineRule } from './rule.ts'

export const voltageDrop = defineRule({
  id: 'voltage-drop',
  title: 'Voltage drop',
  why: 'Volts lost in feed and return are heat in the wiring and lost work at the load.',
  formula: 'feed drop + return drop ≤ 3 % (essential) or 10 % of nominal voltage',
  limits:
    'Tight above 80 % of the allowance, over above it. The allowance is 3 % of the nominal voltage for essential loads, 10 % for others.',
  judgedIn: 'condition',
  appliesTo: ['load', 'pump'],
  needs: ['resistances on its feed and return'],
  sources: [
    { title: 'ABYC E-11 as reprinted, ISO 10133', place: '3 % and 10 % classes', grade: 'read' },
    { title: 'FAA AC 43.13-1B', place: 'Tables 11-6 to 11-8', grade: 'read' },
  ],
  remedy: 'Shorten the run, enlarge its conductors, or feed it by a relay nearer the source.',
  read: ({ circuit, solved, component }) => {
    if (!solved.isOn(component) || circuit.rawRating(component, 'starter') === true) return null
    const loss = solved.lossFor(component)
    const essential = circuit.rawRating(component, 'essential') === true
    const nominal_V = circuit.nominal_V(component)
    // What is not fed has no drop; that it is not fed is said of the condition.
    if (!loss) return null
    return {
      value: loss.feed_V + loss.return_V,
      limit: (essential ? 0.03 : 0.1) * nominal_V,
      unit: 'V',
      ...wayDoubts({ circuit, solved, load: component }),
      overStands: true,
      grades: circuit.resistanceGrades(component),
      subject: `${circuit.component(component).name} loses`,
      worked() {
        return [
          { name: 'source', value: circuit.component(loss.source).name, unit: '' },
          { name: 'drop of the feed', value: loss.feed_V, unit: 'V' },
          { name: 'drop of the return', value: loss.return_V, unit: 'V' },
          { name: 'share of the nominal voltage allowed', value: essential ? 3 : 10, unit: '%' },
          { name: 'nominal voltage', value: nominal_V, unit: 'V' },
        ]
      },
      limitIs: essential ? '3 % allowance' : '10 % allowance',
    }
  },
})
