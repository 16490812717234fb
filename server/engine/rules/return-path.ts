import { ampacity_A } from '../ampacity.ts'
import { defineRule, type Reading } from './rule.ts'

export const returnPath = defineRule({
  id: 'return-path',
  title: 'Return path',
  why: 'What goes out on a fused feed comes back on the ground wire: it must bear the same fault.',
  formula:
    'a return to the source exists; protecting fuse × (test current in one return conductor ÷ test current in the fuse) ≤ its ampacity; over above 150 %',
  appliesTo: ['load', 'pump'],
  needs: ['a recorded return', 'ampacity of its conductors'],
  sources: [{ title: '33 CFR 183.455(c)', place: 'the feed’s limit, taken for the return', grade: 'read' }],
  remedy: 'Record the return, or enlarge it to the feed’s size.',
  read: ({ circuit, solved, component }) => {
    // Cranking motor conductors have no fuse to bear.
    if (solved !== circuit.conditions[0] || circuit.rawRating(component, 'starter') === true) return null
    const name = circuit.component(component).name
    if (!circuit.hasReturn(component))
      return {
        value: null,
        limit: null,
        unit: 'A',
        missing: [`return of ${name}`],
        grades: ['assumed'],
        subject: name,
        statement: `${name} has no return recorded; it is taken to come back through the chassis.`,
      }
    const source = circuit.sourcesOf(component).find((one) => circuit.kindOf(one) === 'battery') ?? circuit.sourcesOf(component)[0]
    if (source === undefined) return null
    const shares = circuit.testCurrentAtLoad({ source, load: component })
    if (!shares) return null
    const devices = circuit.feedOf(component).filter((key) => ['fuse', 'breaker'].includes(circuit.kindOf(key)))
    const ratings = devices.flatMap((device) => {
      const rated = circuit.rating(device, 'rated_A')
      return rated && shares(device) > 1e-9 ? [rated.value / shares(device)] : []
    })
    const least = ratings.length > 0 ? Math.min(...ratings) : null
    const readings = circuit
      .returnOf(component)
      .filter((key) => circuit.kindOf(key) === 'conductor')
      .map((key): Reading => {
        const conductor = circuit.component(key)
        const [area, insulation, ambient] = [
          circuit.crossSection_mm2(key),
          circuit.rating(key, 'insulation_degC'),
          circuit.ambient_degC(key),
        ]
        const material = circuit.rawRating(key, 'material')
        const limit =
          area && insulation && ambient
            ? ampacity_A({
                crossSection_mm2: area.value,
                insulation_degC: insulation.value,
                ambient_degC: ambient.value,
                bundle: conductor.bundle ?? 1,
                material: typeof material === 'string' ? material : 'copper',
              })
            : null
        return {
          value: least === null ? null : (least * shares(key)) / (conductor.parallel ?? 1),
          limit,
          unit: 'A',
          tightAbove: 1,
          overAbove: 1.5,
          missing: [
            area ? '' : `cross-section of ${conductor.name}`,
            insulation ? '' : `insulation temperature rating of ${conductor.name}`,
            ambient ? '' : `ambient temperature of ${conductor.name}`,
            least === null ? 'rated current of a fuse ahead' : '',
          ].filter((one) => one !== ''),
          grades: [area?.grade ?? 'assumed', insulation?.grade ?? 'assumed', ambient?.grade ?? 'assumed'],
          subject: `${name}’s fuse lets its return ${conductor.name} carry`,
          limitIs: 'ampacity',
        }
      })
    const worst = readings.sort((a, b) => share(b) - share(a))[0]
    return (
      worst ?? {
        value: 0,
        limit: 1,
        unit: 'A',
        missing: [],
        grades: ['assumed'],
        subject: name,
        statement: `${name} returns straight to ground.`,
      }
    )
  },
})

function share(reading: Reading): number {
  return reading.value === null || reading.limit === null ? 1 : reading.value / Math.max(reading.limit, 1e-9)
}
