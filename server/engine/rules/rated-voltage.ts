import { defineRule, workedRating } from './rule.ts'

export const ratedVoltage = defineRule({
  id: 'rated-voltage',
  title: 'Rated voltage',
  why: 'A contact or fuse opens an arc only up to its rated voltage.',
  formula: '8, 16, 32 or 54 V (6, 12, 24, 48 V systems) ≤ rated_V',
  limits: 'Over where the system’s highest voltage passes the rated voltage; never tight.',
  judgedIn: 'part',
  appliesTo: ['fuse', 'breaker', 'relay', 'switch'],
  needs: ['rated_V'],
  sources: [{ title: 'ISO 8820-3, -5, -6 scope clauses', place: '32 and 58 V classes', grade: 'read' }],
  remedy: 'Fit a part rated for this system voltage.',
  read: ({ circuit, component }) => {
    const rated = circuit.rating(component, 'rated_V')
    const nominal_V = circuit.nominal_V(component)
    return {
      value: highestVoltage_V(nominal_V, circuit.doc.vehicle.maximum_V),
      limit: rated?.value ?? null,
      unit: 'V',
      tightAbove: null,
      missing: rated ? [] : ['rated voltage'],
      grades: [rated?.grade ?? 'assumed'],
      subject: `${circuit.component(component).name} may see`,
      limitIs: 'rated voltage',
      worked() {
        return [
          { name: 'nominal voltage', value: nominal_V, unit: 'V' },
          { name: 'highest voltage of such a system', value: highestVoltage_V(nominal_V, circuit.doc.vehicle.maximum_V), unit: 'V' },
          workedRating('rated voltage', rated, 'V'),
        ]
      },
    }
  },
})

/** The highest voltage of a system of that nominal voltage: 8, 16, 32, 54 V, unless the vehicle states its own. */
function highestVoltage_V(nominal_V: number, stated_V: number | undefined): number {
  if (stated_V !== undefined) return stated_V
  if (nominal_V <= 6) return 8
  if (nominal_V <= 16) return 16
  return nominal_V <= 32 ? 32 : 54
}
