/** Vehicle → terminals, elements and the graph of wires that current may follow. Long because it is one walk over the document. */

import type { Known } from './circuit.ts'
import { areaOf_mm2 } from './parts/conductor-sizes.ts'
import { partKind } from './parts/index.ts'
import type { InnerBranch } from './parts/part-kind.ts'
import { materials } from './tables/material-constants.ts'
import { COIL_ohm, COLD_CRANKING, FUSE_DROP_V, OPEN_CIRCUIT_VPer12V, RELAY_CONTACT_ohm } from './tables/typical-figures.ts'
import type { Component, Join, Part, Rating, SizeName, VehicleDocument, Zone } from './vehicle.ts'

/** One two-ended thing current passes: a join, or an inner branch of a component. Terminals are numbers. */
export type Element = {
  readonly component: string | null
  readonly kind: InnerBranch['element'] | 'join'
  readonly from: number
  readonly to: number
  /** Ω at 20 °C for joins, series elements, contacts and coils; 0 where not known (see `unknown`) */
  readonly ohm: number
  readonly unknown: boolean
}

export type Network = {
  readonly doc: VehicleDocument
  readonly components: ReadonlyMap<string, Component>
  readonly parts: ReadonlyMap<string, Part>
  readonly zones: ReadonlyMap<string, Zone>
  readonly terminals: readonly string[]
  readonly terminalNumber: ReadonlyMap<string, number>
  readonly elements: readonly Element[]
  readonly elementsOf: ReadonlyMap<string, readonly number[]>
  /** component key → all its terminals, for one-node parts */
  readonly oneNode: ReadonlyMap<string, readonly number[]>
  readonly terminalsOf: ReadonlyMap<string, readonly number[]>
  /** joins by the terminal they end at, and the terminals of each component that a join names, in order of their names */
  readonly joinsAt: ReadonlyMap<number, readonly number[]>
  readonly joined: ReadonlyMap<string, readonly string[]>
  /** terminal number of the chassis, for loads whose return is not recorded */
  readonly chassis: number | null
  readonly reference: number | null
  /** load key → true where its `-` has a join */
  readonly returnJoined: ReadonlySet<string>
}

/** The network of a document, whatever the condition: every contact is an element; conditions close or open it. */
export function networkOf(doc: VehicleDocument): Network {
  const parts = new Map(doc.parts.map((part) => [part.key, part]))
  const components = new Map([...doc.components].sort((a, b) => (a.key < b.key ? -1 : 1)).map((component) => [component.key, component]))
  const joins = sortedJoins(doc)
  const joined = terminalsOfJoins(components, joins)
  const terminals: string[] = []
  const terminalNumber = new Map<string, number>()
  const numberOf = (full: string) => {
    const known = terminalNumber.get(full)
    if (known !== undefined) return known
    terminalNumber.set(full, terminals.length)
    terminals.push(full)
    return terminals.length - 1
  }
  const elements: Element[] = []
  const elementsOf = new Map<string, number[]>()
  const oneNode = new Map<string, readonly number[]>()
  const terminalsOf = new Map<string, readonly number[]>()
  for (const component of components.values()) {
    const { key } = component
    const part = parts.get(component.part) as Part
    const kind = partKind(part.kind)
    if (!kind) continue
    const own = joined.get(key) ?? []
    const numbers = own.map(numberOf)
    const names = own.map((full) => full.slice(key.length + 1))
    const branches: number[] = []
    for (const branch of kind.branches({ ratings: part.ratings, component, terminalsInUse: names })) {
      const [from, to] = [numberOf(`${key}:${branch.from}`), numberOf(`${key}:${branch.to}`)]
      if (!numbers.includes(from)) numbers.push(from)
      if (!numbers.includes(to)) numbers.push(to)
      branches.push(elements.length)
      const { ohm, unknown } = resistance({ component, part, branch, doc })
      elements.push({ component: key, kind: branch.element, from, to, ohm, unknown })
    }
    elementsOf.set(key, branches)
    terminalsOf.set(key, numbers)
    if (kind.terminals.type === 'one-node') oneNode.set(key, numbers)
  }
  const joinsAt = new Map<number, number[]>()
  for (const join of joins) {
    if (carriesFluid(join.from, { components, parts })) continue
    const [from, to] = [numberOf(join.from), numberOf(join.to)]
    put(joinsAt, from, elements.length)
    put(joinsAt, to, elements.length)
    elements.push({ component: null, kind: 'join', from, to, ohm: join.resistance_ohm ?? 0, unknown: false })
  }
  const firstOf = (...kinds: string[]) => {
    for (const kind of kinds)
      for (const component of components.values()) if (parts.get(component.part)?.kind === kind) return component.key
    return null
  }
  const body = firstOf('chassis', 'ground-point')
  const battery = firstOf('battery', 'alternator', 'charger')
  const reference = battery === null ? null : (terminalNumber.get(`${battery}:-`) ?? null)
  const returnJoined = new Set<string>()
  for (const component of components.values()) {
    if (joined.get(component.key)?.includes(`${component.key}:-`)) returnJoined.add(component.key)
  }
  return {
    doc,
    components,
    parts,
    zones: new Map((doc.zones ?? []).map((zone) => [zone.key, zone])),
    terminals,
    terminalNumber,
    elements,
    elementsOf,
    oneNode,
    terminalsOf,
    joinsAt,
    joined,
    chassis: body === null ? reference : (oneNode.get(body)?.[0] ?? reference),
    reference,
    returnJoined,
  }
}

/** `component:terminal` in its two pieces. */
export function splitTerminal(full: string): { readonly component: string; readonly name: string } {
  const at = full.indexOf(':')
  return { component: full.slice(0, at), name: full.slice(at + 1) }
}

/** The two terminals between which a load draws; one whose return is not recorded returns to the chassis. */
export function loadEnds(network: Network, element: Element): readonly [number, number] {
  if (element.kind !== 'load' || element.component === null || network.chassis === null) return [element.from, element.to]
  return [element.from, network.returnJoined.has(element.component) ? element.to : network.chassis]
}

/** True for what carries current by a resistance alone: a join, a series element, a contact. */
export function isWire(element: Element): boolean {
  return element.kind === 'join' || element.kind === 'series' || element.kind === 'contact-make' || element.kind === 'contact-break'
}

/** The part that a component is. */
export function partOf(network: Network, component: string): Part {
  return network.parts.get(network.components.get(component)?.part ?? '') as Part
}

/** Cross-section of a conductor part, from the figure or its named size. */
export function crossSectionOf(part: Part): Known | null {
  const stated = part.ratings.crossSection_mm2
  if (typeof stated === 'number') return { value: stated, grade: part.evidence?.crossSection_mm2 ?? 'assumed' }
  const size = part.ratings.size
  if (!isSize(size)) return null
  const area_mm2 = areaOf_mm2(size)
  return area_mm2 === null ? null : { value: area_mm2, grade: part.evidence?.size ?? 'assumed' }
}

/** Resistance at 20 °C of one component's conductors together, or null if size, length or material is not known. R = ρ·L/(A·n). */
export function conductorResistance20_ohm(part: Part, component: Component): number | null {
  const length_m = component.length_m
  if (length_m === undefined) return null
  const parallel = component.parallel ?? 1
  const perMetre = part.ratings.resistance20_ohmPerM
  if (typeof perMetre === 'number') return (perMetre * length_m) / parallel
  const area = crossSectionOf(part)
  const material = materials[typeof part.ratings.material === 'string' ? part.ratings.material : 'copper']
  return area && material ? (material.rho20_ohmMm2PerM * length_m) / (area.value * parallel) : null
}

/** A numeric rating that the part itself states, with its grade. */
export function statedRating(part: Part, name: string): Known | null {
  const stated = part.ratings[name]
  return typeof stated === 'number' ? { value: stated, grade: part.evidence?.[name] ?? 'assumed' } : null
}

/** The same, a typical figure standing in where there is one. */
export function ratingOf(given: { readonly part: Part; readonly name: string; readonly nominal_V: number }): Known | null {
  const { part, name, nominal_V } = given
  const stated = statedRating(part, name)
  if (stated) return stated
  if (part.kind === 'battery' && name === 'internalResistance_ohm') {
    const cranking_A = part.ratings.coldCranking_A
    if (typeof cranking_A !== 'number') return null
    const end_V = part.ratings.coldCrankingTest === 'EN' ? COLD_CRANKING.EN_end_V : COLD_CRANKING.SAE_end_V
    const ohm = ((COLD_CRANKING.start_V - end_V) / cranking_A) * (nominal_V / 12)
    return { value: ohm, grade: 'typical', typical: 'internal resistance from the cold-cranking figure' }
  }
  if (part.kind === 'battery' && name === 'openCircuit_V')
    return { value: (OPEN_CIRCUIT_VPer12V * nominal_V) / 12, grade: 'typical', typical: 'open-circuit voltage at full charge' }
  if ((part.kind === 'fuse' || part.kind === 'breaker') && name === 'resistance_ohm') {
    const rated_A = part.ratings.rated_A
    return typeof rated_A === 'number' ? { value: FUSE_DROP_V / rated_A, grade: 'typical', typical: '0.1 V at its rated current' } : null
  }
  if (part.kind === 'relay' && name === 'contactResistance_ohm')
    return { value: RELAY_CONTACT_ohm, grade: 'typical', typical: 'a new relay contact' }
  if (part.kind === 'relay' && name === 'coil_ohm')
    return { value: COIL_ohm[nominal_V] ?? (75 * nominal_V * nominal_V) / 144, grade: 'typical', typical: 'a usual coil' }
  return null
}

function resistance(given: { component: Component; part: Part; branch: InnerBranch; doc: VehicleDocument }): {
  ohm: number
  unknown: boolean
} {
  const { component, part, branch, doc } = given
  if (part.kind === 'conductor') {
    const ohm = conductorResistance20_ohm(part, component)
    return { ohm: ohm ?? 0, unknown: ohm === null }
  }
  const name = {
    fuse: 'resistance_ohm',
    breaker: 'resistance_ohm',
    module: 'resistance_ohm',
    relay: 'contactResistance_ohm',
    switch: 'contactResistance_ohm',
    connector: 'contactResistance_ohm',
  }[part.kind]
  if (branch.element === 'coil')
    return { ohm: ratingOf({ part, name: 'coil_ohm', nominal_V: doc.vehicle.systemVoltage_V })?.value ?? 0, unknown: false }
  if (!name) return { ohm: 0, unknown: false }
  const known = ratingOf({ part, name, nominal_V: doc.vehicle.systemVoltage_V })
  return { ohm: known?.value ?? 0, unknown: known === null }
}

/** Each component's joined terminals, in order of their names. */
function terminalsOfJoins(components: ReadonlyMap<string, Component>, joins: readonly Join[]): ReadonlyMap<string, readonly string[]> {
  const found = new Map<string, string[]>()
  for (const key of components.keys()) found.set(key, [])
  for (const join of joins) {
    for (const end of [join.from, join.to]) {
      const own = found.get(end.slice(0, end.indexOf(':')))
      if (own && own[own.length - 1] !== end) own.push(end)
    }
  }
  for (const [key, own] of found) if (!isAscending(own)) found.set(key, [...new Set(own)].sort())
  return found
}

function isAscending(names: readonly string[]): boolean {
  for (let n = 1; n < names.length; n++) if ((names[n - 1] as string) >= (names[n] as string)) return false
  return true
}

/** Joins with their ends in order, sorted: the document's own order changes nothing. */
function sortedJoins(doc: VehicleDocument): readonly Join[] {
  return doc.joins
    .map((join) => (join.from < join.to ? join : { ...join, from: join.to, to: join.from }))
    .sort((a, b) => (a.from < b.from ? -1 : a.from > b.from ? 1 : a.to < b.to ? -1 : 1))
}

function carriesFluid(
  terminal: string,
  given: { readonly components: ReadonlyMap<string, Component>; readonly parts: ReadonlyMap<string, Part> },
): boolean {
  const { component, name } = splitTerminal(terminal)
  const terminals = partKind(given.parts.get(given.components.get(component)?.part ?? '')?.kind ?? '')?.terminals
  return terminals?.type === 'fixed' && terminals.fluid?.includes(name) === true
}

function put(lists: Map<number, number[]>, key: number, value: number): void {
  const known = lists.get(key)
  if (known) known.push(value)
  else lists.set(key, [value])
}

function isSize(rating: Rating | undefined): rating is SizeName {
  return typeof rating === 'object' && rating !== null && !Array.isArray(rating) && 'system' in rating
}
