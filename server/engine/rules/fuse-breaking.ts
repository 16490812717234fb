import type { Circuit, Known } from '../circuit.ts'
import { BREAKING_A } from '../tables/fuse-windows.ts'
import { defineRule, workedRating } from './rule.ts'

export const fuseBreaking = defineRule({
  id: 'fuse-breaking',
  title: 'Breaking capacity',
  why: 'A fuse that meets more current than it can break arcs on, bursts and sets fire to what is round it.',
  formula:
    'short just past the device through its own cold link, all batteries, 20 °C, highest set-point ≤ breaking_A; half of it behind a main device that can break its own',
  limits: 'Tight above 80 % of the breaking capacity, over above it.',
  judgedIn: 'wiring',
  appliesTo: ['fuse', 'breaker'],
  needs: ['breaking_A or form', 'internalResistance_ohm or coldCranking_A of the batteries'],
  sources: [
    { title: 'ISO 8820-3 to -6', place: 'scope clauses, breaking capacity by form', grade: 'read' },
    { title: 'ABYC E-11 Table V.A as reprinted', place: 'branch column, half of the main', grade: 'read' },
    { title: 'Cold-cranking tests', place: 'half the resistance that the −18 °C figure gives', grade: 'memory' },
  ],
  remedy: 'Fit a form of higher breaking capacity near the battery (a bolted strip or class T), and this one behind it.',
  read: ({ circuit, component }) => {
    if (!circuit.isFeed(component)) return null
    const prospective = circuit.prospectiveAt(component)
    if (!prospective) return null
    const rated = breakingOf(circuit, component)
    const main = mainAhead(circuit, component)
    const value = prospective.current_A * (main === null ? 1 : 0.5)
    // What is not known only makes the short smaller.
    const isEnough = rated !== null && value <= rated.value
    // A battery of unknown resistance counts as none: its current is no figure to show.
    const isKnown = isEnough || prospective.missing.length === 0
    return {
      value: isKnown ? value : null,
      limit: rated?.value ?? null,
      unit: 'A',
      missing: isEnough ? [] : [...(rated ? [] : ['breaking capacity']), ...prospective.missing],
      grades: [rated?.grade ?? 'assumed', 'typical'],
      subject:
        main === null
          ? `${circuit.component(component).name} may have to break`
          : `${circuit.component(component).name}, behind ${circuit.component(main).name}, may have to break`,
      limitIs: 'breaking capacity',
      ...(main === null ? {} : { remedy: 'Move it farther from the battery, or fit a form of higher breaking capacity.' }),
      worked() {
        return [
          { name: 'short just past it', value: prospective.current_A, unit: 'A' },
          { name: 'main device ahead', value: main === null ? 'none that can break its own' : circuit.component(main).name, unit: '' },
          { name: 'what counts', value, unit: 'A' },
          workedRating('breaking capacity', rated, 'A'),
        ]
      },
    }
  },
})

/** As the part states, else by its form (typical). */
function breakingOf(circuit: Circuit, device: string): Known | null {
  const stated = circuit.rating(device, 'breaking_A')
  if (stated) return stated
  const form = circuit.rawRating(device, 'form')
  const value = BREAKING_A[typeof form === 'string' ? form : '']
  return value === undefined ? null : { value, grade: 'typical', typical: 'breaking capacity of its form' }
}

/** A device in series ahead that can break all that its own terminals see. */
function mainAhead(circuit: Circuit, component: string): string | null {
  const batteries = circuit.sourcesOf(component).filter((source) => circuit.kindOf(source) === 'battery')
  const ahead = batteries.map((source) =>
    circuit.devicesAhead(source, component).find((device) => {
      const rated = breakingOf(circuit, device)
      const prospective = circuit.prospectiveAt(device)
      return rated !== null && prospective !== null && prospective.missing.length === 0 && prospective.current_A <= rated.value
    }),
  )
  // Each battery that feeds it needs one.
  return ahead.length > 0 && ahead.every((one) => one !== undefined) ? (ahead[0] as string) : null
}
