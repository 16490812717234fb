import { ampacity_A } from '../ampacity.ts'
import type { Circuit } from '../circuit.ts'
import { fuseRatings_A } from '../tables/standard-sizes.ts'
import { defineRule } from './rule.ts'

export const conductorProtection = defineRule({
  id: 'conductor-protection',
  title: 'Conductor protection',
  why: 'The fuse must open before the conductor behind it burns, whatever the load does.',
  formula: 'device rating × (test current in one conductor ÷ test current in the device) ≤ ampacity; over above 150 %',
  appliesTo: ['conductor'],
  needs: ['rated_A of the devices ahead', 'ampacity'],
  sources: [
    { title: '33 CFR 183.455(c)', place: 'below 50 V at most 150 % of the conductor’s ampacity', grade: 'read' },
    { title: 'FAA AC 43.13-1B 11-48', place: 'the device opens before the conductor’s rating is exceeded', grade: 'read' },
  ],
  remedy: 'Fit a smaller fuse, or a larger conductor.',
  read: ({ circuit, solved, component }) => {
    if (solved !== circuit.conditions[0] || !circuit.isFeed(component) || circuit.isReturn(component)) return null
    if (circuit.loadsBehind(component).length === 0 || circuit.isStarterPath(component)) return null
    const conductor = circuit.component(component)
    const [area, insulation, ambient] = [
      circuit.crossSection_mm2(component),
      circuit.rating(component, 'insulation_degC'),
      circuit.ambient_degC(component),
    ]
    const material = circuit.rawRating(component, 'material')
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
    const missing = [
      area ? '' : 'cross-section',
      insulation ? '' : 'insulation temperature rating',
      ambient ? '' : 'ambient temperature of its zone',
    ].filter((one) => one !== '')
    let worst: { value: number; device: string } | null = null
    let ahead = false
    let bare = false
    for (const source of circuit.sourcesOf(component)) {
      const kind = circuit.kindOf(source)
      // A charging lead from its own alternator's side is limited by the alternator.
      if (kind === 'alternator' || kind === 'converter' || kind === 'charger') continue
      const devices = circuit.devicesBetween(source, component)
      if (devices.length === 0) {
        if (deviceFurtherOn({ circuit, source, component })) ahead = true
        else bare = true
        continue
      }
      const shares = circuit.testCurrent({ source, conductor: component })
      let least: { value: number; device: string } | null = null
      for (const device of devices) {
        const rated = circuit.rating(device, 'rated_A')
        if (!rated) {
          missing.push(`rated current of ${circuit.component(device).name}`)
          continue
        }
        const through = shares?.(device) ?? 1
        if (through <= 1e-9) continue
        const value = (rated.value * (shares?.(component) ?? 1)) / (conductor.parallel ?? 1) / through
        if (!least || value < least.value) least = { value, device }
      }
      if (least && (!worst || least.value > worst.value)) worst = least
    }
    if (bare)
      return {
        value: 0,
        limit: 0,
        unit: 'A',
        missing: [],
        grades: ['datasheet'],
        subject: conductor.name,
        fails: true,
        statement: `${conductor.name} has no fuse or breaker between a battery and its loads.`,
        remedy: 'Put a fuse at the battery end.',
      }
    if (!worst && ahead && missing.length === 0) return null
    if (!worst && missing.every((one) => !one.startsWith('rated current'))) return null
    const fits = limit === null ? undefined : fuseRatings_A.findLast((rating) => rating <= limit)
    return {
      value: worst?.value ?? null,
      limit,
      unit: 'A',
      missing: worst ? missing.filter((one) => !one.startsWith('rated current')) : missing,
      tightAbove: 1,
      overAbove: 1.5,
      grades: [area?.grade ?? 'assumed', insulation?.grade ?? 'assumed', ambient?.grade ?? 'assumed'],
      subject: worst
        ? `${circuit.component(worst.device).name} lets ${conductor.name} carry`
        : `The device ahead of ${conductor.name} lets it carry`,
      limitIs: 'ampacity',
      ...(fits === undefined ? {} : { remedy: `A ${fits} A device or smaller protects it.` }),
    }
  },
})

/** Whether every way on from here, seen from that source, passes a device before it reaches a load: then the length rule judges it. */
function deviceFurtherOn(given: { readonly circuit: Circuit; readonly source: string; readonly component: string }): boolean {
  const { circuit, source, component } = given
  return circuit.loadsBehind(component).every((load) => {
    const feed = circuit.feedFrom({ source, load })
    const at = feed.indexOf(component)
    return at < 0 || feed.slice(at + 1).some((key) => ['fuse', 'breaker'].includes(circuit.kindOf(key)))
  })
}
