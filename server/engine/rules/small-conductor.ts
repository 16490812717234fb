import { defineRule, workedRating } from './rule.ts'

export const smallConductor = defineRule({
  id: 'small-conductor',
  title: 'Thin conductors',
  why: 'A thin wire carries its current but breaks where it is pulled, chafed or shaken.',
  formula: 'cross-section ≥ 1 mm² alone, 0.75 mm² in a bundle',
  limits: 'Tight below that; never over.',
  judgedIn: 'part',
  appliesTo: ['conductor'],
  needs: ['crossSection_mm2'],
  sources: [
    { title: '33 CFR 183.425', place: 'single wires at least 16 AWG, members of a cable at least 18 AWG', grade: 'read' },
    { title: 'Common practice', place: '1 mm² and 0.75 mm² for vehicles', grade: 'common practice' },
  ],
  remedy: 'Lay it in a bundle or a sleeve with others, or fit a thicker one.',
  read: ({ circuit, component }) => {
    const area = circuit.crossSection_mm2(component)
    const { name, bundle } = circuit.component(component)
    const isBundled = (bundle ?? 1) > 1
    const least_mm2 = isBundled ? 0.75 : 1
    return {
      value: area?.value ?? null,
      limit: least_mm2,
      unit: 'mm²',
      sense: 'at-least',
      tightAbove: null,
      atMost: 'tight',
      missing: area ? [] : ['cross-section'],
      grades: [area?.grade ?? 'assumed'],
      subject: `${name} has`,
      limitIs: isBundled ? 'minimum in a bundle' : 'minimum for a wire alone',
      worked() {
        return [
          workedRating('cross-section', area, 'mm²'),
          { name: isBundled ? 'least in a bundle' : 'least alone', value: least_mm2, unit: 'mm²' },
        ]
      },
    }
  },
})
