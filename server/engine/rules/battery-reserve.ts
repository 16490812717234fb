import { peukertFor } from '../tables/peukert-exponents.ts'
import { defineRule, workedRating } from './rule.ts'

export const batteryReserve = defineRule({
  id: 'battery-reserve',
  title: 'Hours on the battery alone',
  why: 'Below half its charge a starting battery ages fast and may not start the engine.',
  formula: 'reserve_h ≤ ½·H·(C/(I·H))^k, H = 20 h; never more than ½·C/I',
  limits: 'Over below the hours asked for, tight where they are more than 80 % of what it lasts.',
  judgedIn: 'condition',
  appliesTo: ['battery'],
  needs: ['reserve_h of the vehicle', 'capacity_Ah (20 h)', 'peukert'],
  sources: [
    { title: 'Peukert 1897 as restated, 20 h form', place: 't = H·(C/(I·H))^k', grade: 'read' },
    { title: 'Ranges of k by chemistry', place: 'flooded 1.20–1.30, gel 1.10–1.20, AGM 1.05–1.15, LiFePO4 1.05', grade: 'memory' },
  ],
  remedy: 'Fit a larger battery, or leave some of it off with the engine off.',
  read: ({ circuit, solved, component }) => {
    const reserve_h = circuit.doc.vehicle.reserve_h
    // A condition the owner did not name ("everything on") is no claim to stand for hours.
    if (reserve_h === undefined || circuit.conditionsAreMade || solved.condition.engine !== 'off') return null
    const capacity = circuit.rating(component, 'capacity_Ah')
    const k = circuit.rating(component, 'peukert') ?? peukertFor(circuit.rawRating(component, 'chemistry'))
    const current_A = solved.current_A(component)
    const gives_A = current_A === null ? null : -current_A
    const { name } = circuit.component(component)
    // One that gives nothing lasts; less than this is noise of the solution.
    if (gives_A !== null && gives_A <= 1e-7 && solved.unknownLoads(component).length === 0)
      return {
        value: null,
        limit: reserve_h,
        unit: 'h',
        holds: true,
        grades: ['datasheet'],
        subject: name,
        statement: `${name} gives nothing (${solved.condition.name}).`,
      }
    const hours =
      capacity && gives_A !== null && gives_A > 0 ? toHalf_h({ capacity_Ah: capacity.value, k: k.value, current_A: gives_A }) : null
    return {
      value: hours,
      limit: reserve_h,
      unit: 'h',
      sense: 'at-least',
      missing: capacity ? [] : ['capacity'],
      // An unknown load only shortens it.
      atLeastBecause: solved.unknownLoads(component),
      grades: [capacity?.grade ?? 'assumed', k.grade],
      subject: `${name} reaches half its charge after`,
      limitIs: 'reserve',
      worked() {
        return [
          workedRating('capacity at the 20 h rate, C', capacity, 'Ah'),
          { name: 'current, I', value: gives_A, unit: 'A' },
          workedRating('Peukert exponent, k', k, ''),
          { name: 'hours to half its charge', value: hours, unit: 'h' },
          { name: 'hours asked for', value: reserve_h, unit: 'h' },
        ]
      },
    }
  },
})

/** t = ½·H·(C/(I·H))^k; at less than the 20 h current the law would promise more than the label holds, so ½·C/I caps it. */
function toHalf_h(given: { readonly capacity_Ah: number; readonly k: number; readonly current_A: number }): number {
  const { capacity_Ah: C, k, current_A: I } = given
  const H = 20
  return 0.5 * Math.min(H * (C / (I * H)) ** k, C / I)
}
