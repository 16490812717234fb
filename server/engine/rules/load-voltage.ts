import { wayDoubts } from '../way-doubts.ts'
import { defineRule } from './rule.ts'

export const loadVoltage = defineRule({
  id: 'load-voltage',
  title: 'Voltage at the load',
  why: 'Below its lowest working voltage a load stops, resets or does not do its work.',
  formula: 'minimum_V ≤ volts at its terminals, in every condition it is on in',
  limits: 'Tight where the lowest working voltage is more than 95 % of what it gets, over where it gets less.',
  judgedIn: 'condition',
  appliesTo: ['load', 'pump'],
  needs: ['minimum_V'],
  sources: [{ title: 'the part’s own sheet', place: 'lowest working voltage', grade: 'read' }],
  remedy: 'Cut the drop on its way, or feed it from nearer the source.',
  read: ({ circuit, solved, component }) => {
    const minimum = circuit.rating(component, 'minimum_V')
    if (!minimum || !solved.isOn(component)) return null
    const [plus, minus] = [solved.voltage_V(`${component}:+`), solved.voltage_V(`${component}:-`)]
    const { missing, atLeastBecause } = wayDoubts({ circuit, solved, load: component })
    const fed = !solved.unfed.includes(component)
    return {
      value: plus === null || !fed ? null : plus - (minus ?? 0),
      limit: minimum.value,
      unit: 'V',
      sense: 'at-least',
      tightAbove: 0.95,
      missing: plus === null || !fed ? ['a feed in this condition'] : missing,
      overStands: true,
      atLeastBecause,
      grades: [minimum.grade],
      subject: `${circuit.component(component).name} gets`,
      worked() {
        return [
          { name: 'volts at its positive terminal', value: plus, unit: 'V' },
          { name: 'volts at its negative terminal', value: minus, unit: 'V' },
          { name: 'lowest working voltage', value: minimum.value, unit: 'V', grade: minimum.grade },
        ]
      },
      limitIs: 'lowest working voltage',
    }
  },
})
