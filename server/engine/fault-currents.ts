/** What a bolted short draws: one factorization of the bare network (no loads) serves every place of it. */
import { factorStamped, HELD_ohm, type Source, stampWires } from './assembly.ts'
import { mergedNodes } from './nets.ts'
import { type Element, type Network, partOf, ratingOf } from './network.ts'
import type { Paths } from './paths.ts'
import { halfDot, halfSolve, type HalfSolution, solveFactored } from './sparse.ts'
import { type System, systemOf, unknownAt, voltsAt } from './system.ts'
import { COLD_LINK_share } from './tables/fuse-windows.ts'
import { resistanceAt_ohm } from './thermal.ts'

export type Fault = {
  /** A in the short; at most this where something is missing */
  readonly current_A: number
  /** the terminal it returns by */
  readonly to: string
  /** figures that are not known and count as no resistance */
  readonly missing: readonly string[]
  /** A through one component of two ends while it stands; null where a zero resistance hides the division */
  through_A(component: string): number | null
}

export type Faults = {
  /** the battery alone, conductors at Tr, internal resistance as when cold: the least current, to the chassis or to a load's own return */
  clearing(given: { readonly source: string; readonly conductor: string; readonly loads: readonly string[] }): Fault | null
  /** all batteries together, 20 °C, at the highest set-point of the vehicle, for a short just past the device: what it would have to break */
  breaking(device: string): { readonly current_A: number; readonly missing: readonly string[] } | null
}

export function faultsOf(network: Network, paths: Paths): Faults {
  const states = contactStates(network)
  const bare = new Map<string, readonly Bare[]>()
  const bareOf = (key: string, make: () => readonly Bare[]) => {
    const known = bare.get(key) ?? make()
    bare.set(key, known)
    return known
  }
  return {
    clearing({ source, conductor, loads }) {
      const at = network.elementsOf.get(conductor)?.[0] ?? -1
      const end = paths.farEnd({ source, element: at })
      if (end === null) return null
      const sources = batteriesOf(network, { only: source, share: 1, atLeast_V: 0 })
      const returns = [...new Set([network.chassis, ...loads.map((load) => network.terminalNumber.get(`${load}:-`) ?? null)])].flatMap(
        (one) => one ?? [],
      )
      const found = bareOf(source, () => states.flatMap((closed) => bareNetwork(network, { closed, sources, hot: true }) ?? [])).flatMap(
        (one) => returns.flatMap((back) => shortBetween(one, end, back) ?? []),
      )
      const least = found.reduce<Short | null>((a, b) => (a && a.current_A <= b.current_A ? a : b), null)
      return least && faultOf(network, { short: least, missing: missingOn(network, { paths, source, at, returns, sources }) })
    },
    breaking(device) {
      const at = (network.elementsOf.get(device) ?? [])[0] ?? -1
      const element = network.elements[at]
      if (!element || network.chassis === null) return null
      const back = network.chassis
      const sources = batteriesOf(network, { only: null, share: 0.5, atLeast_V: highestSetPoint_V(network) })
      const most = bareOf('', () => states.flatMap((closed) => bareNetwork(network, { closed, sources, hot: false }) ?? [])).reduce(
        (least_A, one) => Math.max(least_A, throughDevice_A(one, { at, element, back })),
        0,
      )
      return most > 0 ? { current_A: most, missing: unratedBatteries(network, sources) } : null
    },
  }
}

type Battery = Source & { readonly component: string; readonly known: boolean }

/** The bare network of one state of the contacts, factored, with the volts that stand on it before any short. */
type Bare = {
  readonly system: System
  readonly factored: Float64Array
  readonly volts: Float64Array
  readonly ohms: Float64Array
  /** L⁻¹e by unknown, each worked out once */
  readonly halves: Map<number, HalfSolution>
}

type Short = { readonly bare: Bare; readonly current_A: number; readonly a: number; readonly b: number }

/** A changeover relay is either at rest or works; with none, all contacts are closed at once. */
function contactStates(network: Network): readonly Uint8Array[] {
  const isJoined = (element: Element) => network.joinsAt.has(element.to)
  const changeovers = [...network.elementsOf.values()].filter((own) => {
    const kinds = own.map((at) => network.elements[at] as Element).filter(isJoined)
    return kinds.some((one) => one.kind === 'contact-make') && kinds.some((one) => one.kind === 'contact-break')
  })
  const closed = () => new Uint8Array(network.elements.length).fill(1)
  if (changeovers.length === 0) return [closed()]
  return (['contact-break', 'contact-make'] as const).map((open) => {
    const state = closed()
    for (const own of changeovers) for (const at of own) if ((network.elements[at] as Element).kind === open) state[at] = 0
    return state
  })
}

/** Batteries as Norton sources. `share` of the resistance that a cold-cranking figure gives; a stated one stands as it is. */
function batteriesOf(
  network: Network,
  given: { readonly only: string | null; readonly share: number; readonly atLeast_V: number },
): readonly Battery[] {
  const found: Battery[] = []
  network.elements.forEach((element, at) => {
    if (element.kind !== 'source' || element.component === null || (given.only !== null && element.component !== given.only)) return
    const part = partOf(network, element.component)
    if (part.kind !== 'battery') return
    const nominal_V = typeof part.ratings.nominal_V === 'number' ? part.ratings.nominal_V : network.doc.vehicle.systemVoltage_V
    const inner = ratingOf({ part, name: 'internalResistance_ohm', nominal_V })
    const ohm = inner ? inner.value * (inner.typical === undefined ? 1 : given.share) : 0
    const emf_V = ratingOf({ part, name: 'openCircuit_V', nominal_V })?.value ?? 0
    // A set-point of a 12 V system says nothing of a battery of another voltage.
    const highest_V = given.atLeast_V <= emf_V * 1.35 ? Math.max(emf_V, given.atLeast_V) : emf_V
    found.push({
      component: element.component,
      element: at,
      emf_V: highest_V,
      ohm: Math.max(ohm, HELD_ohm),
      gives_A: 0,
      mode: 'norton',
      known: inner !== null,
    })
  })
  return found
}

function highestSetPoint_V(network: Network): number {
  let most = 0
  for (const key of network.components.keys()) {
    const { kind, ratings } = partOf(network, key)
    const volts = kind === 'alternator' ? ratings.setPoint_V : kind === 'charger' ? ratings.output_V : undefined
    if (typeof volts === 'number') most = Math.max(most, volts)
  }
  return most
}

function bareNetwork(
  network: Network,
  given: { readonly closed: Uint8Array; readonly sources: readonly Battery[]; readonly hot: boolean },
): Bare | null {
  const { closed, sources, hot } = given
  const system = systemOf(network, { closed, drawing: new Set() }, sources)
  const ohms = Float64Array.from(network.elements, (element, at) =>
    hot
      ? isOf(network, element, 'conductor')
        ? resistanceAt_ohm(network, { element: at, degC: hottest_degC(network, element) })
        : element.ohm
      : element.ohm * (isOf(network, element, 'fuse') ? COLD_LINK_share : 1),
  )
  const values = system.pattern.values()
  const right = new Float64Array(system.pattern.size)
  stampWires(system, { ohms, sources, inputs_A: new Map(), diodesOff: new Set() }, values, right)
  if (!factorStamped(system, values)) return null
  return { system, factored: values, volts: solveFactored(system.pattern, values, right), ohms, halves: new Map() }
}

function isOf(network: Network, element: Element, kind: string): boolean {
  return element.component !== null && partOf(network, element.component).kind === kind
}

/** Tr of a conductor; one of unknown insulation as at 105 °C. */
function hottest_degC(network: Network, element: Element): number {
  const rated_degC = element.component === null ? undefined : partOf(network, element.component).ratings.insulation_degC
  return typeof rated_degC === 'number' ? rated_degC : 105
}

/** I = V/Z between two terminals, Z = eᵀG⁻¹e with e = e_a − e_b; null where no source drives it. */
function shortBetween(bare: Bare, a: number, b: number): Short | null {
  const { system, volts } = bare
  if (unknownAt(system, a) === -2 || unknownAt(system, b) === -2) return null
  const open_V = voltsAt(system, volts, a) - voltsAt(system, volts, b)
  const ohm = crossed(bare, [a, b], [a, b])
  return open_V > 1e-6 && ohm > 1e-12 ? { bare, current_A: open_V / ohm, a, b } : null
}

/** (e_a − e_b)ᵀ·G⁻¹·(e_c − e_d), in Ω. */
function crossed(bare: Bare, [a, b]: readonly [number, number], [c, d]: readonly [number, number]): number {
  const dot = (one: number, other: number) => {
    const [i, j] = [unknownAt(bare.system, one), unknownAt(bare.system, other)]
    return i < 0 || j < 0 ? 0 : halfDot(half(bare, i), half(bare, j), bare.factored, bare.system.pattern)
  }
  return dot(a, c) - dot(a, d) - dot(b, c) + dot(b, d)
}

function half(bare: Bare, unknown: number): HalfSolution {
  const known = bare.halves.get(unknown) ?? halfSolve(bare.system.pattern, bare.factored, unknown)
  bare.halves.set(unknown, known)
  return known
}

function faultOf(network: Network, given: { readonly short: Short; readonly missing: readonly string[] }): Fault {
  const { short, missing } = given
  return {
    current_A: short.current_A,
    to: network.terminals[short.b] as string,
    missing,
    through_A: (component) => {
      const own = (network.elementsOf.get(component) ?? []).filter((at) => short.bare.system.closed[at] === 1)
      let sum = 0
      for (const at of own) {
        const through = elementCurrent_A(short, { at, element: network.elements[at] as Element })
        if (through === null) return null
        sum += through
      }
      return Math.abs(sum)
    },
  }
}

/** A through an element while the short stands: g·(Δv − I·(e_f − e_t)ᵀG⁻¹(e_a − e_b)). */
function elementCurrent_A(short: Short, given: { readonly at: number; readonly element: Element }): number | null {
  const { bare, current_A, a, b } = short
  const { from, to } = given.element
  const { system, volts, ohms } = bare
  if (system.root[from] === system.root[to]) return null
  if (unknownAt(system, from) === -2) return 0
  const change_V = current_A * crossed(bare, [from, to], [a, b])
  return (voltsAt(system, volts, from) - voltsAt(system, volts, to) - change_V) / (ohms[given.at] as number)
}

/** The larger of what a short at either end of the device drives through it. */
function throughDevice_A(bare: Bare, given: { readonly at: number; readonly element: Element; readonly back: number }): number {
  const { at, element, back } = given
  const through = [element.from, element.to].map((end) => {
    const short = shortBetween(bare, end, back)
    // Bridged by 0 Ω, all of it may pass.
    return short ? Math.abs(elementCurrent_A(short, { at, element }) ?? short.current_A) : 0
  })
  return Math.max(...through)
}

/** Resistances that are not known on the way there or on any of the ways back: the least short draws at most what is given. */
function missingOn(
  network: Network,
  given: {
    readonly paths: Paths
    readonly source: string
    readonly at: number
    readonly returns: readonly number[]
    readonly sources: readonly Battery[]
  },
): readonly string[] {
  const { paths, source, at, returns, sources } = given
  const back = returns.flatMap((terminal) => paths.wayBack({ source, terminal }))
  const hollow = [...new Set([...paths.wayTo({ source, element: at }), ...back])]
    .map((one) => network.elements[one] as Element)
    .filter((element) => element.unknown && element.component !== null)
    .map((element) => `resistance of ${network.components.get(element.component as string)?.name ?? element.component}`)
  return [...new Set([...unratedBatteries(network, sources), ...hollow])]
}

function unratedBatteries(network: Network, sources: readonly Battery[]): readonly string[] {
  return sources
    .filter((source) => !source.known)
    .map((source) => `internal resistance of ${network.components.get(source.component)?.name ?? source.component}`)
}

/** Other fuses and breakers joined to the same two nodes. Joins alone merge: a device or a wire of unknown resistance is no node. */
export function devicesBeside(network: Network, device: string): readonly string[] {
  const nodes = mergedNodes(
    network,
    Uint8Array.from(network.elements, (element) => (element.kind === 'join' ? 1 : 0)),
  )
  const endsOf = (component: string) => {
    const element = network.elements[(network.elementsOf.get(component) ?? [])[0] ?? -1]
    return element ? [nodes.find(element.from), nodes.find(element.to)].sort((a, b) => a - b).join(' ') : ''
  }
  const own = endsOf(device)
  return [...network.components.keys()].filter(
    (key) => key !== device && ['fuse', 'breaker'].includes(partOf(network, key).kind) && endsOf(key) === own,
  )
}
