import type { Circuit, Known } from '../circuit.ts'
import { figure } from './figure.ts'
import { defineRule, type Reading } from './rule.ts'

export const conductorEntry = defineRule({
  id: 'conductor-entry',
  title: 'Conductor in its terminal',
  why: 'A clamp or crimp grips only the cross-sections it is made for: a thinner one works loose, a thicker one loses strands.',
  formula: 'entryMin_mm2 ≤ cross-section of one conductor ≤ entryMax_mm2 of the block or connector it enters',
  limits: 'Over outside the range; never tight.',
  judgedIn: 'wiring',
  appliesTo: ['conductor'],
  needs: ['crossSection_mm2', 'entryMin_mm2, entryMax_mm2 of what it enters'],
  sources: [{ title: 'the block’s or connector’s own sheet', place: 'conductor range', grade: 'read' }],
  remedy: 'Fit a terminal made for this cross-section, or step the size at a splice.',
  read: ({ circuit, component }) => {
    if (!circuit.isStated('entryMin_mm2') && !circuit.isStated('entryMax_mm2')) return null
    const hosts = new Set(circuit.joinsOf(component).map((join) => join.other.slice(0, join.other.indexOf(':'))))
    return [...hosts].flatMap((host) => readingsAt({ circuit, conductor: component, host }))
  },
})

/** The conductor against each bound that its host states; only blocks and connectors state any. */
function readingsAt(given: { readonly circuit: Circuit; readonly conductor: string; readonly host: string }): readonly Reading[] {
  const { circuit, conductor, host } = given
  const area = circuit.crossSection_mm2(conductor)
  const [least, most] = [circuit.rating(host, 'entryMin_mm2'), circuit.rating(host, 'entryMax_mm2')]
  const shared = {
    value: area?.value ?? null,
    unit: 'mm²',
    tightAbove: null,
    missing: area ? [] : ['cross-section'],
    subject: circuit.component(conductor).name,
    statement: `${circuit.component(conductor).name} is ${area ? figure(area.value, 'mm²') : 'of unknown cross-section'}; ${circuit.component(host).name} takes ${range(least, most)}.`,
    worked() {
      return [
        { name: 'cross-section', value: area?.value ?? null, unit: 'mm²' },
        { name: `smallest that ${circuit.component(host).name} takes`, value: least?.value ?? null, unit: 'mm²' },
        { name: 'largest', value: most?.value ?? null, unit: 'mm²' },
      ]
    },
  }
  const readings: Reading[] = []
  if (most) readings.push({ ...shared, limit: most.value, grades: [area?.grade ?? 'assumed', most.grade] })
  if (least)
    readings.push({
      ...shared,
      limit: least.value,
      sense: 'at-least',
      grades: [area?.grade ?? 'assumed', least.grade],
    })
  return readings
}

/** "2.5 mm² to 6 mm²", or the one bound that is known. */
function range(least: Known | null, most: Known | null): string {
  const from = least ? figure(least.value, 'mm²') : null
  const to = most ? figure(most.value, 'mm²') : null
  return from === null ? `up to ${to}` : to === null ? `${from} and more` : `${from} to ${to}`
}
