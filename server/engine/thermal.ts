/** Self-heating of conductors: T = Ta + (Tc − 30)·(I/(I30·bundle))². */
import { baseAmpacity, bundleFactor } from './ampacity.ts'
import { crossSectionOf, type Network } from './network.ts'
import type { Part } from './vehicle.ts'

export type AmpacityBase = {
  readonly I30: number
  readonly Tc: number
  readonly insulation_degC: number
  readonly ambient_degC: number
  readonly factor: number
  readonly parallel: number
}

/** What a conductor's temperature law needs, or null where its insulation rating, ambient or size is not known. */
export function ampacityBase(network: Network, key: string): AmpacityBase | null {
  const component = network.components.get(key)
  const part = network.parts.get(component?.part ?? '') as Part | undefined
  const ambient_degC = network.zones.get(component?.zone ?? '')?.ambient_degC
  const insulation_degC = part?.ratings.insulation_degC
  if (!component || !part || ambient_degC === undefined || typeof insulation_degC !== 'number') return null
  const area = crossSectionOf(part)
  if (!area) return null
  const base = baseAmpacity({
    crossSection_mm2: area.value,
    insulation_degC,
    material: typeof part.ratings.material === 'string' ? part.ratings.material : 'copper',
  })
  return (
    base && {
      I30: base.I30,
      Tc: base.Tc,
      insulation_degC,
      ambient_degC,
      factor: bundleFactor(component.bundle ?? 1),
      parallel: component.parallel ?? 1,
    }
  )
}

/** Temperature in °C of the conductor carrying `current_A` in all its parallel conductors, at most Tr + 50 K; null where the law does not apply. */
export function conductorTemperature_degC(given: {
  readonly network: Network
  readonly component: string
  readonly current_A: number
}): number | null {
  const base = ampacityBase(given.network, given.component)
  if (!base) return null
  const share = given.current_A / base.parallel / (base.I30 * base.factor)
  return Math.min(base.ambient_degC + (base.Tc - 30) * share * share, base.insulation_degC + 50)
}
