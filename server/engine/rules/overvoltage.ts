import type { Known } from '../circuit.ts'
import { defineRule } from './rule.ts'

export const overvoltage = defineRule({
  id: 'overvoltage',
  title: 'Highest voltage at a load',
  why: 'A load made for less than the charging voltage is damaged on the first drive.',
  formula: 'highest set-point among its sources ≤ maximum_V',
  limits: 'Over above the highest voltage it stands; never tight.',
  judgedIn: 'wiring',
  appliesTo: ['load', 'pump'],
  needs: ['maximum_V', 'setPoint_V, output_V of its sources'],
  sources: [{ title: 'the part’s own sheet', place: 'highest supply voltage', grade: 'read' }],
  remedy: 'Feed it through a converter of the right output, or lower the set-point.',
  read: ({ circuit, component }) => {
    const most = circuit.rating(component, 'maximum_V')
    if (!most) return null
    const sources = circuit
      .sourcesOf(component)
      .map((source) => ({ source, volts: circuit.rating(source, SET_POINT[circuit.kindOf(source)] ?? '') }))
    if (sources.length === 0) return null
    const known = sources.flatMap((one) => one.volts ?? [])
    const highest = known.reduce<Known | null>((a, b) => (a && a.value >= b.value ? a : b), null)
    return {
      value: highest?.value ?? null,
      limit: most.value,
      unit: 'V',
      tightAbove: null,
      missing: sources.filter((one) => one.volts === null).map((one) => `set-point of ${circuit.component(one.source).name}`),
      overStands: true,
      grades: [most.grade, ...(highest ? [highest.grade] : [])],
      subject: `${circuit.component(component).name} may see`,
      limitIs: 'highest supply voltage',
      worked() {
        return [
          ...sources.map((one) => ({ name: circuit.component(one.source).name, value: one.volts?.value ?? null, unit: 'V' })),
          { name: 'highest voltage it stands', value: most.value, unit: 'V', grade: most.grade },
        ]
      },
    }
  },
})

const SET_POINT: Readonly<Record<string, string>> = {
  battery: 'openCircuit_V',
  alternator: 'setPoint_V',
  charger: 'output_V',
  converter: 'output_V',
}
