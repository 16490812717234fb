import { defineRule, workedRating } from './rule.ts'

export const chargingBalance = defineRule({
  id: 'charging-balance',
  title: 'Charging balance',
  why: 'What the alternator cannot give comes out of the battery, kilometre after kilometre.',
  formula:
    'current wanted at the set-point, charging included, ≤ output at that speed; at idle at most tight, unless the deficit halves the battery within an hour',
  limits:
    'Tight above 80 % of the output, over above it. At idle never more than tight, unless the deficit would halve the battery within an hour.',
  judgedIn: 'condition',
  appliesTo: ['alternator'],
  needs: ['output_A', 'idleOutput_A', 'setPoint_V'],
  sources: [{ title: 'ISO 8854', place: 'rated and idle points', grade: 'read' }],
  remedy: 'Fit a larger alternator, or leave some of the loads off.',
  read: ({ circuit, solved, component }) => {
    const engine = solved.condition.engine
    if (engine !== 'running' && engine !== 'idle') return null
    const state = solved.alternators.find((one) => one.component === component)
    const name = circuit.component(component).name
    const output = engine === 'idle' ? 'idleOutput_A' : 'output_A'
    const rated = circuit.rating(component, output)
    const setPoint = circuit.rating(component, 'setPoint_V')
    const capacities = circuit.componentsOf('battery').map((battery) => circuit.rating(battery, 'capacity_Ah')?.value ?? null)
    const deficit_A = state && rated ? state.wanted_A - rated.value : 0
    const capacity_Ah = capacities.reduce((sum: number, one) => sum + (one ?? 0), 0)
    // Within one hour, so amperes stand for ampere-hours.
    const halves = capacity_Ah > 0 && deficit_A > capacity_Ah / 2
    return {
      value: state?.wanted_A ?? null,
      limit: rated?.value ?? null,
      unit: 'A',
      missing: [setPoint ? '' : 'set-point', rated ? '' : engine === 'idle' ? 'output at idle' : 'output'].filter((one) => one !== ''),
      atLeastBecause: circuit.componentsOf('load', 'pump').filter((load) => solved.unknownLoads(load).includes(load)),
      grades: [rated?.grade ?? 'assumed', setPoint?.grade ?? 'assumed'],
      ...(engine === 'idle' && !halves ? { atMost: 'tight' as const } : {}),
      worked() {
        return [
          { name: 'wanted at the set-point, charging included', value: state?.wanted_A ?? null, unit: 'A' },
          workedRating('set-point', setPoint, 'V'),
          workedRating(engine === 'idle' ? 'output at idle' : 'output', rated, 'A'),
        ]
      },
      subject: `${name} is asked for`,
      limitIs: engine === 'idle' ? 'output at idle' : 'output',
    }
  },
})
