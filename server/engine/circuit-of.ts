/** Answers the rules' questions about a vehicle from its network, paths and operating points. Long because it is one set of answers. */
import type { Circuit, ContactCurrent, Known, SolvedCondition } from './circuit.ts'
import { conditionState, conditionsOf, isOn } from './conditions.ts'
import { crossSectionOf, type Element, type Network, networkOf, ratingOf, splitTerminal } from './network.ts'
import { type Paths, pathsOf } from './paths.ts'
import { type LoadLaw, type OperatingPoint, solve } from './solve.ts'
import type { Component, Condition, Part } from './vehicle.ts'

export type SolvedCircuit = Circuit & { readonly network: Network; readonly paths: Paths; readonly points: readonly OperatingPoint[] }

/** The solved circuit of a document in each of its conditions. `conductorTemperature_degC` pins every conductor (no self-heating). */
export function circuitOf(
  doc: import('./vehicle.ts').VehicleDocument,
  options: { readonly conductorTemperature_degC?: number | undefined } = {},
): SolvedCircuit {
  const network = networkOf(doc)
  const paths = pathsOf(network)
  const { conditions, made } = conditionsOf(network)
  const nodeOf = new Map([...network.oneNode].flatMap(([key, terminals]) => terminals.map((n): [number, string] => [n, key])))
  const feeds = new Map<string, readonly string[]>()
  const returns = new Map<string, readonly string[]>()
  const kept = (cache: Map<string, readonly string[]>, key: string, make: () => readonly string[]) => {
    const known = cache.get(key) ?? make()
    cache.set(key, known)
    return known
  }
  const partOf = (component: string) => network.parts.get(network.components.get(component)?.part ?? '') as Part
  const elementsOf = (component: string) =>
    (network.elementsOf.get(component) ?? []).map((at) => ({ at, element: network.elements[at] as Element }))
  const wiresOf = (component: string) =>
    elementsOf(component).filter((one) => one.element.kind !== 'load' && one.element.kind !== 'coil' && one.element.kind !== 'source')
  const nominal_V = (component: string) => nominalOf(network, paths, component)
  const rating = (component: string, name: string) => ratingOf({ part: partOf(component), name, nominal_V: nominal_V(component) })
  const laws = new Map<number, LoadLaw>()
  network.elements.forEach((element, at) => {
    if (element.kind === 'coil') laws.set(at, { behaviour: 'resistive', value: element.ohm, half_V: 0, known: true })
    else if (element.kind === 'load' && element.component !== null)
      laws.set(at, lawOf(partOf(element.component), nominal_V(element.component)))
  })
  const points = conditions.map((condition) => {
    const state = conditionState({ network, condition, loadsBehind: paths.loadsBehind })
    const point = solve(network, {
      condition,
      closed: state.closed,
      drawing: state.drawing,
      laws,
      pinned_degC: options.conductorTemperature_degC,
    })
    return { ...point, faults: [...state.faults, ...point.faults] }
  })
  const componentElements = (component: string): readonly number[] => {
    const wires = wiresOf(component).map((one) => one.at)
    if (wires.length > 0) return wires
    const terminals = network.oneNode.get(component)
    return terminals ? terminals.flatMap((terminal) => network.joinsAt.get(terminal) ?? []) : elementsOf(component).map((one) => one.at)
  }
  const loadElement = (load: string) => elementsOf(load).find((one) => one.element.kind === 'load' || one.element.kind === 'coil')?.at ?? -1
  const behindCache = new Map<string, readonly string[]>()
  const loadsBehind = (component: string): readonly string[] => {
    const known = behindCache.get(component)
    if (known) return known
    const found = new Set<string>()
    for (const at of componentElements(component))
      for (const load of paths.loadsBehind(at)) found.add((network.elements[load] as Element).component as string)
    const list = [...found]
      .filter((load) => load !== component || partOf(component).kind === 'load' || partOf(component).kind === 'pump')
      .sort()
    behindCache.set(component, list)
    return list
  }
  const componentsIn = (elements: readonly number[]) => {
    const found = new Set<string>()
    for (const at of elements) {
      const element = network.elements[at] as Element
      if (element.component !== null) found.add(element.component)
      else for (const n of [element.from, element.to]) if (nodeOf.has(n)) found.add(nodeOf.get(n) as string)
    }
    return [...found]
  }
  const pathFor = (load: string) => paths.pathsOf(loadElement(load))[0]
  const unfinishedCache = new Map<string, readonly string[]>()
  const circuit: Circuit = {
    doc,
    conditions: [],
    conditionsAreMade: made,
    component: (key) => network.components.get(key) as Component,
    part: partOf,
    kindOf: (component) => partOf(component).kind,
    componentsOf: (...kinds) => [...network.components.keys()].filter((key) => kinds.includes(partOf(key).kind)),
    rawRating: (component, name) => partOf(component).ratings[name] ?? null,
    rating,
    ambient_degC: (component) => ambientOf(network, component),
    crossSection_mm2: (conductor) => crossSectionOf(partOf(conductor)),
    nominal_V,
    isFeed: (conductor) => wiresOf(conductor).some((one) => paths.isFeed(one.at)),
    isReturn: (conductor) => wiresOf(conductor).some((one) => paths.isReturn(one.at)),
    loadsBehind,
    feedOf: (load) => kept(feeds, load, () => componentsIn(pathFor(load)?.feed ?? [])),
    feedFrom: ({ source, load }) => componentsIn(paths.pathsOf(loadElement(load)).find((path) => path.source === source)?.feed ?? []),
    returnOf: (load) => kept(returns, load, () => componentsIn(pathFor(load)?.back ?? [])),
    hasReturn: (load) => network.returnJoined.has(load) && paths.pathsOf(loadElement(load)).some((path) => path.back.length > 0),
    sourcesOf: (component) => [
      ...new Set(
        (componentElements(component).some((at) => at >= 0) ? componentElements(component) : []).flatMap((at) =>
          isLoadLike(network, at) ? paths.pathsOf(at).map((path) => path.source) : paths.sourcesOf(at),
        ),
      ),
    ],
    devicesBetween: (source, component) =>
      [...new Set(componentElements(component).flatMap((at) => paths.between({ source, element: at })))].flatMap((at) => {
        const key = (network.elements[at] as Element).component
        return key !== null && key !== component && ['fuse', 'breaker'].includes(partOf(key).kind) ? [key] : []
      }),
    testCurrent: ({ source, conductor }) => sharesBy(paths.testCurrent({ source, element: wiresOf(conductor)[0]?.at ?? -1 }), elementsOf),
    testCurrentAtLoad: ({ source, load }) => {
      const element = network.elements[loadElement(load)]
      if (!element) return null
      const feed = paths.testCurrentTo({ source, terminal: element.from, side: 'feed' })
      const back = paths.testCurrentTo({ source, terminal: element.to, side: 'return' })
      return sharesBy(feed && new Map([...feed, ...(back ?? [])]), elementsOf)
    },
    isStarterPath: (conductor) =>
      loadsBehind(conductor).some(
        (load) =>
          partOf(load).ratings.starter === true &&
          paths
            .pathsOf(loadElement(load))
            .some(
              (path) =>
                beforeFuse(network, path.feed, conductor, partOf) ||
                path.back.some((at) => (network.elements[at] as Element).component === conductor),
            ),
      ),
    unfinishedNear: (component) => {
      const known = unfinishedCache.get(component)
      if (known) return known
      const texts = unfinishedTexts(network, component, { loadsBehind, componentsIn, paths, loadElement })
      unfinishedCache.set(component, texts)
      return texts
    },
  }
  const solvedConditions = conditions.map((condition, n) =>
    solvedCondition({ network, paths, condition, point: points[n] as OperatingPoint, circuit, elementsOf, laws, loadElement }),
  )
  return Object.assign(circuit, { conditions: solvedConditions, network, paths, points })
}

function solvedCondition(given: {
  network: Network
  paths: Paths
  condition: Condition
  point: OperatingPoint
  circuit: Circuit
  elementsOf: (component: string) => { at: number; element: Element }[]
  laws: ReadonlyMap<number, LoadLaw>
  loadElement: (load: string) => number
}): SolvedCondition {
  const { network, paths, condition, point, circuit, elementsOf, laws, loadElement } = given
  const volts = (terminal: number) => nullIfNaN(point.voltage_V[terminal] as number)
  const unfed = point.solved
    ? [...network.components.keys()].filter((key) => {
        const terminals = network.terminalsOf.get(key) ?? []
        return terminals.length > 0 && terminals.every((n) => volts(n) === null)
      })
    : []
  const loadIsActive = (load: number) => point.activeLoads.has(load)
  const current_A = (component: string): number | null => {
    if (!point.solved) return null
    const own = elementsOf(component)
    const main = own.filter(
      (one) => one.element.kind !== 'coil' && !(circuit.kindOf(component) === 'converter' && one.element.kind === 'load'),
    )
    if (main.length === 0) return null
    return main.reduce((sum, one) => sum + (point.current_A[one.at] as number), 0)
  }
  // Most vehicles have no unknown and no pulsed load: then nothing needs to be walked.
  const unknown = new Set([...point.activeLoads].filter((load) => laws.get(load)?.known === false))
  const pulsed = [...point.activeLoads].some(
    (load) =>
      typeof network.parts.get(network.components.get((network.elements[load] as Element).component ?? '')?.part ?? '')?.ratings.pwmDuty ===
      'number',
  )
  const unknownOn = (elements: readonly number[]): readonly string[] =>
    unknown.size === 0
      ? []
      : [
          ...new Set(
            elements
              .flatMap((at) => paths.loadsBehind(at))
              .filter((load) => loadIsActive(load) && laws.get(load)?.known === false)
              .map((load) => (network.elements[load] as Element).component as string),
          ),
        ]
  return {
    condition,
    solved: point.solved,
    faults: point.faults,
    unfed,
    voltage_V: (terminal) => {
      const n = network.terminalNumber.get(terminal)
      return n === undefined ? null : volts(n)
    },
    current_A,
    rms_A: (component) => {
      const current = current_A(component)
      if (current === null) return null
      if (!pulsed) return Math.abs(current) / (circuit.component(component).parallel ?? 1)
      const square = elementsOf(component).flatMap((one) => (one.element.kind === 'load' ? [one.at] : paths.loadsBehind(one.at)))
      let extra = 0
      for (const load of new Set(square)) {
        const duty = network.parts.get(network.components.get((network.elements[load] as Element).component ?? '')?.part ?? '')?.ratings
          .pwmDuty
        if (typeof duty === 'number' && loadIsActive(load)) extra += (point.current_A[load] as number) ** 2 * (1 / duty - 1)
      }
      return Math.sqrt(current * current + extra) / (circuit.component(component).parallel ?? 1)
    },
    terminalCurrent_A: (terminal) => {
      const n = network.terminalNumber.get(terminal)
      if (n === undefined || !point.solved) return null
      let sum = 0
      for (const at of network.joinsAt.get(n) ?? [])
        sum += ((network.elements[at] as Element).from === n ? 1 : -1) * (point.current_A[at] as number)
      return Math.abs(sum)
    },
    terminalAssumed: (terminal) => point.assumedTerminals.has(network.terminalNumber.get(terminal) ?? -1),
    contacts: (component) => contactsOf({ component, elementsOf, network, paths, point }),
    drop_V: (component) => {
      const own = elementsOf(component).find((one) => one.element.kind !== 'coil' && (point.closed[one.at] as number) === 1)?.element
      const [a, b] = own ? [volts(own.from), volts(own.to)] : [null, null]
      return a === null || b === null ? null : a - b
    },
    temperature_degC: (component) => point.temperature_degC.get(component) ?? null,
    unknownLoads: (component) =>
      unknownOn(network.oneNode.get(component)?.flatMap((n) => network.joinsAt.get(n) ?? []) ?? elementsOf(component).map((one) => one.at)),
    unknownResistances: (load) => {
      const path = paths.pathsOf(loadElement(load))[0]
      return [
        ...new Set(
          [...(path?.feed ?? []), ...(path?.back ?? [])].flatMap((at) =>
            (network.elements[at] as Element).unknown ? [(network.elements[at] as Element).component as string] : [],
          ),
        ),
      ]
    },
    isOn: (load) => isOn(network, condition, load),
    lossFor: (load) => {
      const element = network.elements[loadElement(load)]
      if (!element || !point.solved) return null
      const reach = paths.pathsOf(loadElement(load)).map((path) => path.source)
      const source = point.sources
        .filter((one) => reach.includes(one.component) && one.mode !== 'off')
        .sort((a, b) => b.gives_A - a.gives_A)[0]
      if (!source) return null
      const post = network.elements[source.element] as Element
      const back = network.returnJoined.has(load) ? element.to : (network.chassis ?? element.to)
      const [up, plus, minus, down] = [volts(post.from), volts(element.from), volts(back), volts(post.to)]
      return up === null || plus === null || minus === null || down === null
        ? null
        : { feed_V: up - plus, return_V: minus - down, source: source.component }
    },
    alternators: point.alternators,
  }
}

/** A load's law: what it draws at a voltage, or that it is not known. */
function lawOf(part: Part, nominal_V: number): LoadLaw {
  const number = (name: string) => (typeof part.ratings[name] === 'number' ? (part.ratings[name] as number) : null)
  const [current_A, power_W, rated_V] = [number('current_A'), number('power_W'), number('rated_V')]
  const behaviour = part.ratings.behaviour ?? (power_W !== null && current_A === null ? 'power' : 'current')
  const unknown: LoadLaw = { behaviour: 'current', value: 0, half_V: 0, known: false }
  if (part.kind === 'converter') return { behaviour: 'current', value: 0, half_V: 0, known: true }
  if (current_A === 0 || power_W === 0) return { behaviour: 'current', value: 0, half_V: 0, known: true }
  if (behaviour === 'resistive') {
    if (rated_V === null || (current_A === null && power_W === null)) return unknown
    return {
      behaviour,
      value: current_A !== null ? rated_V / current_A : (rated_V * rated_V) / (power_W as number),
      half_V: 0,
      known: true,
    }
  }
  if (behaviour === 'power') {
    const watts = power_W ?? (current_A !== null && rated_V !== null ? current_A * rated_V : null)
    return watts === null ? unknown : { behaviour, value: watts, half_V: (rated_V ?? nominal_V) / 2, known: true }
  }
  const amperes = current_A ?? (power_W !== null && rated_V !== null ? power_W / rated_V : null)
  return amperes === null ? unknown : { behaviour: 'current', value: amperes, half_V: 0, known: true }
}

function contactsOf(given: {
  component: string
  elementsOf: (component: string) => { at: number; element: Element }[]
  network: Network
  paths: Paths
  point: OperatingPoint
}): readonly ContactCurrent[] {
  const { component, elementsOf, network, paths, point } = given
  if (!point.solved) return []
  const byContact = new Map<string, { current_A: number; loads: Set<string> }>()
  for (const { at, element } of elementsOf(component)) {
    if (element.kind !== 'contact-make' && element.kind !== 'contact-break' && element.kind !== 'series') continue
    if ((network.joinsAt.get(element.to) ?? []).length === 0) continue
    const contact =
      element.kind === 'contact-make'
        ? 'make'
        : element.kind === 'contact-break'
          ? 'break'
          : splitTerminal(network.terminals[element.to] as string).name
    const one = byContact.get(contact) ?? { current_A: 0, loads: new Set() }
    one.current_A += point.current_A[at] as number
    if (point.closed[at])
      for (const load of paths.loadsBehind(at))
        if (point.activeLoads.has(load)) one.loads.add((network.elements[load] as Element).component as string)
    byContact.set(contact, one)
  }
  return [...byContact].map(([contact, one]) => ({ contact, current_A: Math.abs(one.current_A), loads: [...one.loads] }))
}

/** Texts of unfinished changes on the component's own feed and return paths. */
function unfinishedTexts(
  network: Network,
  component: string,
  given: {
    loadsBehind: (component: string) => readonly string[]
    componentsIn: (elements: readonly number[]) => string[]
    paths: Paths
    loadElement: (load: string) => number
  },
): readonly string[] {
  const marked = [...network.components.values()].filter((one) => one.unfinished !== undefined)
  if (marked.length === 0) return []
  const near = new Set([component])
  for (const load of [...given.loadsBehind(component), component]) {
    const at = given.loadElement(load)
    if (at < 0) continue
    for (const path of given.paths.pathsOf(at)) for (const key of given.componentsIn([...path.feed, ...path.back])) near.add(key)
    near.add(load)
  }
  return marked.filter((one) => near.has(one.key)).map((one) => one.unfinished as string)
}

function nominalOf(network: Network, paths: Paths, component: string): number {
  const at = network.elementsOf.get(component)?.[0]
  const sources = at === undefined ? [] : isLoadLike(network, at) ? paths.pathsOf(at).map((path) => path.source) : paths.sourcesOf(at)
  for (const source of sources) {
    const ratings = network.parts.get(network.components.get(source)?.part ?? '')?.ratings
    const volts = ratings?.nominal_V ?? ratings?.output_V
    if (typeof volts === 'number') return volts
  }
  return network.doc.vehicle.systemVoltage_V
}

function ambientOf(network: Network, component: string): Known | null {
  const zone = network.zones.get(network.components.get(component)?.zone ?? '')
  return zone?.ambient_degC === undefined ? null : { value: zone.ambient_degC, grade: zone.evidence?.ambient_degC ?? 'assumed' }
}

function sharesBy(
  shares: ReadonlyMap<number, number> | null,
  elementsOf: (component: string) => { at: number; element: Element }[],
): ((component: string) => number) | null {
  if (!shares) return null
  return (component) => elementsOf(component).reduce((sum, one) => sum + (shares.get(one.at) ?? 0), 0)
}

function beforeFuse(network: Network, feed: readonly number[], conductor: string, partOf: (component: string) => Part): boolean {
  for (const at of feed) {
    const key = (network.elements[at] as Element).component
    if (key === conductor) return true
    if (key !== null && ['fuse', 'breaker'].includes(partOf(key).kind)) return false
  }
  return false
}

function isLoadLike(network: Network, at: number): boolean {
  const kind = network.elements[at]?.kind
  return kind === 'load' || kind === 'coil' || kind === 'source'
}

function nullIfNaN(value: number): number | null {
  return Number.isFinite(value) ? value : null
}
