/** A fitted conductor's ampacity, with what is missing to know it and the grades of what it rests on. */
import { ampacity_A, isBelowTable } from './ampacity.ts'
import type { Circuit } from './circuit.ts'
import type { Grade } from './vehicle.ts'

export type ConductorLimit = {
  /** A in one conductor, or null where `missing` says why not */
  readonly ampacity_A: number | null
  readonly missing: readonly string[]
  readonly grades: readonly Grade[]
  /** a bundle that is not recorded counts as one conductor alone */
  readonly defaults: readonly Grade[]
  /** the same run with another cross-section; null where the limit is not known */
  readonly withArea_A: ((crossSection_mm2: number) => number | null) | null
}

/** The ampacity of one of the component's parallel conductors at its zone's ambient and in its bundle (see `ampacity_A`). */
export function conductorLimit(circuit: Circuit, conductor: string): ConductorLimit {
  const { bundle } = circuit.component(conductor)
  const [area, insulation, ambient] = [
    circuit.crossSection_mm2(conductor),
    circuit.rating(conductor, 'insulation_degC'),
    circuit.ambient_degC(conductor),
  ]
  const defaults: readonly Grade[] = bundle === undefined ? ['assumed'] : []
  const grades: readonly Grade[] = [
    area?.grade ?? 'assumed',
    insulation?.grade ?? 'assumed',
    ambient?.grade ?? 'assumed',
    ...(area && isBelowTable(area.value) ? (['assumed'] as const) : []),
  ]
  if (!area || !insulation || !ambient) {
    const missing = [
      area ? '' : 'cross-section',
      insulation ? '' : 'insulation temperature rating',
      ambient ? '' : 'ambient temperature of its zone',
    ].filter((one) => one !== '')
    return { ampacity_A: null, missing, grades, defaults, withArea_A: null }
  }
  const material = circuit.rawRating(conductor, 'material')
  const withArea_A = (crossSection_mm2: number) =>
    ampacity_A({
      crossSection_mm2,
      insulation_degC: insulation.value,
      ambient_degC: ambient.value,
      bundle: bundle ?? 1,
      material: typeof material === 'string' ? material : 'copper',
    })
  const limit = withArea_A(area.value)
  return { ampacity_A: limit, missing: limit === null ? ['ampacity below 60 °C insulation'] : [], grades, defaults, withArea_A }
}
