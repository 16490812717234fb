/** Self-heating of conductors: T = Ta + (Tc − 30)·(I/(I30·bundle))², and their resistance at it. */
import { baseAmpacity, bundleFactor } from './ampacity.ts'
import { crossSectionOf, type Element, type Network, partOf } from './network.ts'
import { materials } from './tables/material-constants.ts'
import type { Part } from './vehicle.ts'

/** How warm the conductors are: °C by key, and Ω by element with theirs at that temperature. */
export type Warmth = {
  readonly conductors: readonly string[]
  readonly temperatures: Map<string, number>
  readonly ohms: Float64Array
}

export type AmpacityBase = {
  readonly I30: number
  readonly Tc: number
  readonly insulation_degC: number
  readonly ambient_degC: number
  readonly factor: number
  readonly parallel: number
}

/** The conductors before they carry anything: at `pinned_degC`, else at their zone's ambient, else at 20 °C. */
export function warmthOf(network: Network, pinned_degC: number | undefined): Warmth {
  const conductors = [...network.components.keys()].filter((key) => partOf(network, key).kind === 'conductor')
  const ohms = new Float64Array(network.elements.length)
  network.elements.forEach((element, at) => {
    ohms[at] = element.ohm
  })
  const warmth = { conductors, temperatures: new Map(), ohms }
  for (const key of conductors) {
    const ambient_degC = network.zones.get(network.components.get(key)?.zone ?? '')?.ambient_degC
    setTemperature(network, warmth, { key, degC: pinned_degC ?? ambient_degC ?? 20 })
  }
  return warmth
}

/** Warms each conductor to what it carries (A by element); true where one moved by more than 0.01 K. */
export function moveTemperatures(network: Network, warmth: Warmth, currents: Float64Array): boolean {
  let moved = false
  for (const key of warmth.conductors) {
    const at = network.elementsOf.get(key)?.[0] as number
    const next = conductorTemperature_degC({ network, component: key, current_A: currents[at] as number })
    if (next === null) continue
    if (Math.abs(next - (warmth.temperatures.get(key) ?? 20)) > 0.01) moved = true
    setTemperature(network, warmth, { key, degC: next })
  }
  return moved
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

function setTemperature(network: Network, warmth: Warmth, given: { readonly key: string; readonly degC: number }): void {
  const at = network.elementsOf.get(given.key)?.[0]
  if (at === undefined) return
  warmth.temperatures.set(given.key, given.degC)
  warmth.ohms[at] = resistanceAt_ohm(network, { element: at, degC: given.degC })
}

/** Ω of a conductor's element at a temperature T: R = R20·(1 + α20·(T − 20)), α20 of its material; copper's where that is not known. */
export function resistanceAt_ohm(network: Network, given: { readonly element: number; readonly degC: number }): number {
  const element = network.elements[given.element] as Element
  const { ratings } = partOf(network, element.component as string)
  const material = materials[typeof ratings.material === 'string' ? ratings.material : 'copper'] ?? materials.copper
  return element.ohm * (1 + (material?.alpha20_perK ?? 0) * (given.degC - 20))
}
