import type { Circuit, SolvedCondition } from '../circuit.ts'
import { PICK_UP_share } from '../tables/typical-figures.ts'
import { defineRule, workedRating } from './rule.ts'

export const coilPickUp = defineRule({
  id: 'coil-pick-up',
  title: 'Pick-up of a relay when hot',
  why: 'A hot coil needs more volts to pull in; with a weak feed the relay chatters or stays open.',
  formula: '1.1 × pick-up voltage at 20 °C × (234.5 + Ta)/254.5 ≤ volts at the coil',
  limits: 'Tight where that is more than 95 % of the volts at the coil, over where it is more than they are.',
  judgedIn: 'condition',
  appliesTo: ['relay'],
  needs: ['pickUp20_V', 'zone ambient', 'a recorded coil feed'],
  sources: [
    { title: 'Relay makers’ application notes', place: 'V(T) = V20·(234.5 + T)/254.5, copper’s law', grade: 'read' },
    { title: 'State highway electrical quality standard 8', place: 'at least 110 % of the pick-up voltage', grade: 'read' },
  ],
  remedy: 'Feed the coil with a thicker or shorter wire, move the relay to a cooler place, or fit one of lower pick-up.',
  read: ({ circuit, solved, component }) => {
    const { name } = circuit.component(component)
    const ways = circuit.waysOf(component)
    if (!ways.includes(`${component}:86`) && !ways.includes(`${component}:85`))
      return solved === circuit.conditions[0] && ways.length > 0
        ? { ...NOTHING, missing: [`what drives the coil of ${name}`], subject: `The coil of ${name} gets` }
        : null
    if (!solved.works(component) || !mattersIn({ circuit, solved, component })) return null
    const nominal_V = circuit.nominal_V(component)
    const ambient = circuit.ambient_degC(component)
    const pickUp = circuit.rating(component, 'pickUp20_V') ?? {
      value: PICK_UP_share * nominal_V,
      grade: 'typical' as const,
      typical: 'pick-up at two thirds of the nominal voltage',
    }
    const [plus, minus] = [solved.voltage_V(`${component}:86`), solved.voltage_V(`${component}:85`)]
    const coil_V = plus === null || minus === null ? null : Math.abs(plus - minus)
    const way = [...circuit.feedOf(component), ...circuit.returnOf(component)]
    const hollow = solved.unknownResistances(component).map((key) => `resistance of ${circuit.component(key).name}`)
    return {
      value: coil_V,
      limit: ambient ? 1.1 * atAmbient_V(pickUp.value, ambient.value) : null,
      unit: 'V',
      sense: 'at-least',
      tightAbove: 0.95,
      missing: [
        ...(ambient ? [] : ['ambient temperature of its zone']),
        ...(coil_V === null ? ['a feed to its coil in this condition'] : hollow),
      ],
      // The coil gets at most this.
      overStands: true,
      atLeastBecause: [...new Set(way.flatMap((key) => solved.unknownLoads(key)))],
      grades: [pickUp.grade, ambient?.grade ?? 'assumed'],
      subject: `The coil of ${name} gets`,
      limitIs: 'need when hot',
      worked() {
        return [
          workedRating('pick-up voltage at 20 °C', pickUp, 'V'),
          workedRating('ambient, Ta', ambient, '°C'),
          { name: 'pick-up voltage at that ambient', value: ambient ? atAmbient_V(pickUp.value, ambient.value) : null, unit: 'V' },
          { name: 'volts at the coil', value: coil_V, unit: 'V' },
        ]
      },
    }
  },
})

const NOTHING = { value: null, limit: null, unit: 'V', grades: ['assumed' as const] }

/** V(T) = V20·(234.5 + T)/254.5: the current a coil needs is the same at any temperature, its resistance is not. */
function atAmbient_V(pickUp20_V: number, ambient_degC: number): number {
  return (pickUp20_V * (234.5 + ambient_degC)) / 254.5
}

/** While cranking only the relays of starters and essential loads have to hold. */
function mattersIn(given: { readonly circuit: Circuit; readonly solved: SolvedCondition; readonly component: string }): boolean {
  const { circuit, solved, component } = given
  if (solved.condition.engine !== 'cranking') return true
  return circuit
    .loadsBehind(component)
    .some((load) => circuit.rawRating(load, 'starter') === true || circuit.rawRating(load, 'essential') === true)
}
