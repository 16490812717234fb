/** What a bolted short draws: one factorization of the bare network (no loads) serves every place of it. Long because it is one set of figures. */
import { factorStamped, HELD_ohm, type Source, stampWires } from './assembly.ts'
import { type Element, type Network, partOf, ratingOf } from './network.ts'
import type { Paths } from './paths.ts'
import { halfDot, halfSolve, type HalfSolution, solveFactored } from './sparse.ts'
import { type System, systemOf, unknownAt, voltsAt } from './system.ts'
import { COLD_LINK_share } from './tables/fuse-windows.ts'
import { resistanceAt_ohm } from './thermal.ts'
import { Union } from './union.ts'

export type Fault = {
  /** A in the short; at most this where something is missing */
  readonly current_A: number
  /** the terminal it returns by */
  readonly to: string
  /** A in a short at the conductor's near end, and the terminal that one returns by: the most of a short along it */
  readonly near_A: number
  readonly nearTo: string
  /** figures that are not known and count as no resistance */
  readonly missing: readonly string[]
  /** A through one component of two ends while a short at that end of the conductor stands; null where a zero resistance hides the division */
  through_A(component: string, end?: 'far' | 'near'): number | null
}

export type Faults = {
  /** the battery alone, conductors at Tr, internal resistance as when cold: the least current at the conductor's far end and the most at its near end, to the chassis or to a load's own return */
  clearing(given: { readonly source: string; readonly conductor: string; readonly loads: readonly string[] }): Fault | null
  /** all batteries together, 20 °C, at the highest set-point of the vehicle, for a short just past the device: what it would have to break */
  breaking(device: string): { readonly current_A: number; readonly missing: readonly string[] } | null
}

export function faultsOf(network: Network, paths: Paths): Faults {
  const networks = bareNetworks(network)
  const hasUnknown = network.elements.some((element) => element.unknown)
  const clearing = new Map<string, Prepared>()
  const clearingFrom = (source: string): Prepared => {
    const known = clearing.get(source) ?? networks({ sources: batteriesOf(network, { only: source, share: 1, atLeast_V: 0 }), hot: true })
    clearing.set(source, known)
    return known
  }
  let breaking: Prepared | null = null
  return {
    clearing({ source, conductor, loads }) {
      const at = network.elementsOf.get(conductor)?.[0] ?? -1
      const end = paths.farEnd({ source, element: at })
      if (end === null) return null
      const { sources, bares } = clearingFrom(source)
      const { from, to } = network.elements[at] as Element
      const returns = backTerminals(network, loads)
      const far = extremeShort(bares, { at: end, returns, sense: 'least' })
      if (!far) return null
      const near = extremeShort(bares, { at: end === to ? from : to, returns, sense: 'most' }) ?? far
      const hollow = hasUnknown ? unknownOn(network, { paths, source, at, returns }) : []
      return faultOf(network, { far, near, missing: [...unratedBatteries(network, sources), ...hollow] })
    },
    breaking(device) {
      const at = (network.elementsOf.get(device) ?? [])[0] ?? -1
      const element = network.elements[at]
      const back = network.chassis
      if (!element || back === null) return null
      breaking ??= networks({
        sources: batteriesOf(network, { only: null, share: 0.5, atLeast_V: highestSetPoint_V(network) }),
        hot: false,
      })
      const current_A = Math.max(0, ...breaking.bares.map((bare) => throughDevice_A(bare, { at, element, back })))
      return current_A > 0 ? { current_A, missing: unratedBatteries(network, breaking.sources) } : null
    },
  }
}

type Prepared = { readonly sources: readonly Battery[]; readonly bares: readonly Bare[] }

/** Factors the bare network in each state of its contacts; what is the same for two sets of figures is ordered once. */
function bareNetworks(network: Network): (given: { readonly sources: readonly Battery[]; readonly hot: boolean }) => Prepared {
  const states = contactStates(network)
  const systems = new Map<string, System>()
  return ({ sources, hot }) => ({
    sources,
    bares: states.flatMap((closed, state) => {
      const key = [state, ...sources.map((source) => source.element)].join(' ')
      const system = systems.get(key) ?? systemOf(network, { closed, drawing: new Set() }, sources)
      systems.set(key, system)
      return bareNetwork(system, { sources, hot }) ?? []
    }),
  })
}

/** The chassis, and the terminals by which the loads return. */
function backTerminals(network: Network, loads: readonly string[]): readonly number[] {
  const found = network.chassis === null ? [] : [network.chassis]
  for (const load of loads) {
    const terminal = network.terminalNumber.get(`${load}:-`)
    if (terminal !== undefined) found.push(terminal)
  }
  return found
}

type Battery = Source & { readonly component: string; readonly known: boolean }

/** The bare network of one state of the contacts, factored, with the volts that stand on it before any short. */
type Bare = {
  readonly system: System
  readonly factored: Float64Array
  readonly volts: Float64Array
  readonly ohms: Float64Array
  /** L⁻¹e by unknown, each worked out once */
  readonly halves: (HalfSolution | undefined)[]
  /** eᵀG⁻¹e by unknown, likewise */
  readonly selves_ohm: (number | undefined)[]
  readonly scratch: Float64Array
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

function bareNetwork(system: System, given: { readonly sources: readonly Battery[]; readonly hot: boolean }): Bare | null {
  const { sources, hot } = given
  const { network, pattern } = system
  const ohms = Float64Array.from(network.elements, (element, at) => {
    if (!hot) return element.ohm * (isOf(network, element, 'fuse') ? COLD_LINK_share : 1)
    return isOf(network, element, 'conductor')
      ? resistanceAt_ohm(network, { element: at, degC: hottest_degC(network, element) })
      : element.ohm
  })
  const values = pattern.values()
  const right = new Float64Array(pattern.size)
  stampWires(system, { ohms, sources, inputs_A: new Map(), diodesOff: new Set() }, values, right)
  if (!factorStamped(system, values)) return null
  return {
    system,
    factored: values,
    volts: solveFactored(pattern, values, right),
    ohms,
    halves: [],
    selves_ohm: [],
    scratch: new Float64Array(pattern.size),
  }
}

function isOf(network: Network, element: Element, kind: string): boolean {
  return element.component !== null && partOf(network, element.component).kind === kind
}

/** Tr of a conductor; one of unknown insulation as at 105 °C. */
function hottest_degC(network: Network, element: Element): number {
  const rated_degC = element.component === null ? undefined : partOf(network, element.component).ratings.insulation_degC
  return typeof rated_degC === 'number' ? rated_degC : 105
}

/** Of all states and ways back the short at one terminal that draws least or most. */
function extremeShort(
  bares: readonly Bare[],
  given: { readonly at: number; readonly returns: readonly number[]; readonly sense: 'least' | 'most' },
): Short | null {
  const { at, returns, sense } = given
  let [found, back, current_A]: [Bare | null, number, number] = [null, -1, 0]
  for (const bare of bares) {
    for (const b of returns) {
      const own_A = shortCurrent_A(bare, at, b)
      if (own_A === 0 || (found && (sense === 'least' ? own_A >= current_A : own_A <= current_A))) continue
      ;[found, back, current_A] = [bare, b, own_A]
    }
  }
  return found && { bare: found, current_A, a: at, b: back }
}

function shortBetween(bare: Bare, a: number, b: number): Short | null {
  const current_A = shortCurrent_A(bare, a, b)
  return current_A > 0 ? { bare, current_A, a, b } : null
}

/** I = V/Z between two terminals, Z = eᵀG⁻¹e with e = e_a − e_b; 0 where no source drives it. */
function shortCurrent_A(bare: Bare, a: number, b: number): number {
  const { system, volts } = bare
  if (unknownAt(system, a) === -2 || unknownAt(system, b) === -2) return 0
  const open_V = voltsAt(system, volts, a) - voltsAt(system, volts, b)
  if (open_V <= 1e-6) return 0
  const ohm = self_ohm(bare, a) - 2 * dot_ohm(bare, a, b) + self_ohm(bare, b)
  return ohm > 1e-12 ? open_V / ohm : 0
}

/** (e_a − e_b)ᵀ·G⁻¹·(e_c − e_d), in Ω. */
function crossed(bare: Bare, [a, b]: readonly [number, number], [c, d]: readonly [number, number]): number {
  return dot_ohm(bare, a, c) - dot_ohm(bare, a, d) - dot_ohm(bare, b, c) + dot_ohm(bare, b, d)
}

function dot_ohm(bare: Bare, one: number, other: number): number {
  const [i, j] = [unknownAt(bare.system, one), unknownAt(bare.system, other)]
  return i < 0 || j < 0
    ? 0
    : halfDot(bare.system.pattern, bare.factored, { node: i, half: half(bare, i) }, { node: j, half: half(bare, j) })
}

function self_ohm(bare: Bare, terminal: number): number {
  const unknown = unknownAt(bare.system, terminal)
  if (unknown < 0) return 0
  const known = bare.selves_ohm[unknown] ?? dot_ohm(bare, terminal, terminal)
  bare.selves_ohm[unknown] = known
  return known
}

function half(bare: Bare, unknown: number): HalfSolution {
  const known = bare.halves[unknown] ?? halfSolve(bare.system.pattern, bare.factored, unknown, bare.scratch)
  bare.halves[unknown] = known
  return known
}

function faultOf(network: Network, given: { readonly far: Short; readonly near: Short; readonly missing: readonly string[] }): Fault {
  const { far, near, missing } = given
  return {
    current_A: far.current_A,
    to: network.terminals[far.b] as string,
    near_A: near.current_A,
    nearTo: network.terminals[near.b] as string,
    missing,
    through_A(component, end = 'far') {
      const short = end === 'far' ? far : near
      let sum = 0
      for (const at of network.elementsOf.get(component) ?? []) {
        if (short.bare.system.closed[at] !== 1) continue
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
function unknownOn(
  network: Network,
  given: { readonly paths: Paths; readonly source: string; readonly at: number; readonly returns: readonly number[] },
): readonly string[] {
  const { paths, source, at, returns } = given
  const back = returns.flatMap((terminal) => paths.wayBack({ source, terminal }))
  const hollow = [...new Set([...paths.wayTo({ source, element: at }), ...back])]
    .map((one) => network.elements[one] as Element)
    .filter((element) => element.unknown && element.component !== null)
    .map((element) => `resistance of ${network.components.get(element.component as string)?.name ?? element.component}`)
  return [...new Set(hollow)]
}

function unratedBatteries(network: Network, sources: readonly Battery[]): readonly string[] {
  return sources
    .filter((source) => !source.known)
    .map((source) => `internal resistance of ${network.components.get(source.component)?.name ?? source.component}`)
}

/** Device → the other fuses and breakers joined to the same two nodes; those alone are left out. Joins alone merge: a device or a wire of unknown resistance is no node. */
export function devicesSideBySide(network: Network): ReadonlyMap<string, readonly string[]> {
  const nodes = new Union(network.terminals.length)
  for (const terminals of network.oneNode.values()) for (const terminal of terminals) nodes.join(terminals[0] as number, terminal)
  for (const element of network.elements) if (element.kind === 'join' && element.ohm === 0) nodes.join(element.from, element.to)
  const byEnds = new Map<number, string[]>()
  for (const key of network.components.keys()) {
    if (!['fuse', 'breaker'].includes(partOf(network, key).kind)) continue
    const element = network.elements[(network.elementsOf.get(key) ?? [])[0] ?? -1]
    if (!element) continue
    const [a, b] = [nodes.find(element.from), nodes.find(element.to)]
    const ends = Math.min(a, b) * network.terminals.length + Math.max(a, b)
    const known = byEnds.get(ends)
    if (known) known.push(key)
    else byEnds.set(ends, [key])
  }
  const found = new Map<string, readonly string[]>()
  for (const group of byEnds.values()) {
    if (group.length > 1)
      for (const key of group)
        found.set(
          key,
          group.filter((other) => other !== key),
        )
  }
  return found
}
