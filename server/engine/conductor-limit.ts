/** A fitted conductor's ampacity, with what is missing to know it and the grades of what it rests on. */
import { ampacity_A, baseAmpacity, bundleFactor, isBelowTable } from './ampacity.ts'
import type { Circuit } from './circuit.ts'
import { type Worked, workedRating } from './rules/rule.ts'
import type { Grade } from './vehicle.ts'

export type ConductorLimit = {
  /** A in one conductor, or null where `missing` says why not */
  readonly ampacity_A: number | null
  readonly missing: readonly string[]
  readonly grades: readonly Grade[]
  /** a bundle that is not recorded counts as one conductor alone */
  readonly defaults: readonly Grade[]
}

/** The ampacity of one of the component's parallel conductors at its zone's ambient and in its bundle (see `ampacity_A`). */
export function conductorLimit(circuit: Circuit, conductor: string): ConductorLimit {
  return circuit.keep('conductor-limit', conductor, () => limitOf(circuit, conductor))
}

function limitOf(circuit: Circuit, conductor: string): ConductorLimit {
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
    return { ampacity_A: null, missing, grades, defaults }
  }
  const material = circuit.rawRating(conductor, 'material')
  const limit = ampacity_A({
    crossSection_mm2: area.value,
    insulation_degC: insulation.value,
    ambient_degC: ambient.value,
    bundle: bundle ?? 1,
    material: typeof material === 'string' ? material : 'copper',
  })
  return { ampacity_A: limit, missing: limit === null ? ['ampacity below 60 °C insulation'] : [], grades, defaults }
}

/** The figures behind an ampacity, in its formula's order. */
export function ampacityFigures(circuit: Circuit, conductor: string): readonly Worked[] {
  const [area, insulation, ambient] = [
    circuit.crossSection_mm2(conductor),
    circuit.rating(conductor, 'insulation_degC'),
    circuit.ambient_degC(conductor),
  ]
  const material = circuit.rawRating(conductor, 'material')
  const base =
    area && insulation
      ? baseAmpacity({
          crossSection_mm2: area.value,
          insulation_degC: insulation.value,
          material: typeof material === 'string' ? material : 'copper',
        })
      : null
  const { bundle } = circuit.component(conductor)
  return [
    workedRating('cross-section, A', area, 'mm²'),
    workedRating('insulation rating, Tr', insulation, '°C'),
    { name: 'column used, Tc', value: base?.Tc ?? null, unit: '°C' },
    { name: 'ampacity at 30 °C, I30', value: base?.I30 ?? null, unit: 'A' },
    workedRating('ambient, Ta', ambient, '°C'),
    {
      name: bundle === undefined ? 'bundle factor (no bundle recorded)' : `bundle factor of ${bundle}`,
      value: bundleFactor(bundle ?? 1),
      unit: '',
    },
  ]
}
