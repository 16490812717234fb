import { ampacity_A, isBelowTable } from '../ampacity.ts'
import { crossSections_mm2 } from '../tables/standard-sizes.ts'
import { defineRule } from './rule.ts'

export const conductorAmpacity = defineRule({
  id: 'conductor-ampacity',
  title: 'Conductor ampacity',
  why: 'A conductor that carries more than its ampacity runs hotter than its insulation is made for.',
  formula: 'I per conductor ≤ I30(A, Tc)·√((Tr − Ta)/(Tc − 30))·bundle',
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
    const conductor = circuit.component(component)
    const value = solved.rms_A(component)
    const area = circuit.crossSection_mm2(component)
    const insulation = circuit.rating(component, 'insulation_degC')
    const ambient = circuit.ambient_degC(component)
    const missing = [
      area ? '' : 'cross-section',
      insulation ? '' : 'insulation temperature rating',
      ambient ? '' : 'ambient temperature of its zone',
    ].filter((one) => one !== '')
    const material = circuit.rawRating(component, 'material')
    const figures =
      area && insulation && ambient
        ? {
            crossSection_mm2: area.value,
            insulation_degC: insulation.value,
            ambient_degC: ambient.value,
            bundle: conductor.bundle ?? 1,
            material: typeof material === 'string' ? material : 'copper',
          }
        : null
    const limit = figures ? ampacity_A(figures) : null
    if (figures && limit === null) missing.push('ampacity below 60 °C insulation')
    const next =
      figures && value !== null
        ? crossSections_mm2.find(
            (crossSection_mm2) =>
              crossSection_mm2 > figures.crossSection_mm2 && (ampacity_A({ ...figures, crossSection_mm2 }) ?? 0) >= value / 0.8,
          )
        : undefined
    return {
      value,
      limit,
      unit: 'A',
      missing,
      atLeastBecause: solved.unknownLoads(component),
      grades: [
        area?.grade ?? 'assumed',
        insulation?.grade ?? 'assumed',
        ambient?.grade ?? 'assumed',
        ...(figures && isBelowTable(figures.crossSection_mm2) ? (['assumed'] as const) : []),
      ],
      subject: `${conductor.name} carries`,
      limitIs: 'ampacity',
      ...(next === undefined ? {} : { remedy: `A ${next} mm² conductor of the same insulation carries it.` }),
    }
  },
})
