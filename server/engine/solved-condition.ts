/** Answers about one condition: its operating point, asked by component and terminal. */
import type { ContactCurrent, SolvedCondition } from './circuit.ts'
import { isOn } from './conditions.ts'
import type { LoadLaw } from './load-law.ts'
import { type Element, splitTerminal } from './network.ts'
import type { OperatingPoint } from './operating-point.ts'
import type { Condition } from './vehicle.ts'
import type { Wiring } from './wiring.ts'

export function solvedCondition(given: {
  readonly wiring: Wiring
  readonly condition: Condition
  readonly point: OperatingPoint
  readonly drawing: ReadonlySet<number>
  readonly laws: ReadonlyMap<number, LoadLaw>
}): SolvedCondition {
  const { wiring, condition, point, drawing, laws } = given
  const { network, paths } = wiring
  const element = (at: number) => network.elements[at] as Element
  const componentAt = (at: number) => element(at).component as string
  const volts = (terminal: number): number | null => {
    const value = point.voltage_V[terminal] as number
    return Number.isFinite(value) ? value : null
  }
  const current_A = (component: string): number | null => {
    if (!point.solved) return null
    const wires = wiring.wiresOf(component)
    const carriers = wires.length > 0 || network.oneNode.has(component) ? wires : (network.elementsOf.get(component) ?? [])
    let sum = 0
    let any = false
    for (const at of carriers) {
      const kind = element(at).kind
      // A converter's current is its output's, a relay's its contacts'.
      if (kind === 'coil' || (kind === 'load' && wiring.kindOf(component) === 'converter')) continue
      sum += point.current_A[at] as number
      any = true
    }
    return any ? sum : null
  }
  const hasHollow = network.elements.some((one) => one.unknown)
  const unknownAhead = aheadOf(
    wiring,
    [...point.activeLoads].filter((load) => laws.get(load)?.known === false),
  )
  const dutyOf = (load: number): number | null => {
    const duty = wiring.rawRating(componentAt(load), 'pwmDuty')
    return typeof duty === 'number' ? duty : null
  }
  const pulsedAhead = aheadOf(
    wiring,
    [...point.activeLoads].filter((load) => dutyOf(load) !== null),
  )
  const loadsAt = (ahead: ReadonlyMap<number, readonly number[]>, elements: readonly number[]): readonly number[] => {
    if (ahead.size === 0) return NONE
    const found = new Set<number>()
    for (const at of elements) for (const load of ahead.get(at) ?? NONE) found.add(load)
    return [...found]
  }
  return {
    condition,
    solved: point.solved,
    faults: point.faults,
    unfed: point.solved ? [...network.components.keys()].filter((key) => isUnfed(wiring, key, volts)) : [],
    voltage_V: (terminal) => {
      const n = network.terminalNumber.get(terminal)
      return n === undefined ? null : volts(n)
    },
    current_A,
    rms_A: (component) => {
      const current = current_A(component)
      if (current === null) return null
      const parallel = wiring.component(component).parallel ?? 1
      let square = current * current
      for (const load of loadsAt(pulsedAhead, wiring.carriersOf(component)))
        square += (point.current_A[load] as number) ** 2 * (1 / (dutyOf(load) as number) - 1)
      return Math.sqrt(square) / parallel
    },
    terminalCurrent_A: (terminal) => {
      const n = network.terminalNumber.get(terminal)
      if (n === undefined || !point.solved) return null
      let sum = 0
      for (const at of network.joinsAt.get(n) ?? NONE) sum += (element(at).from === n ? 1 : -1) * (point.current_A[at] as number)
      return Math.abs(sum)
    },
    terminalAssumed: (terminal) => point.assumedTerminals.has(network.terminalNumber.get(terminal) ?? -1),
    contacts: (component) => contactsOf(wiring, component, point),
    drop_V: (component) => {
      const at = (network.elementsOf.get(component) ?? NONE).find((one) => element(one).kind !== 'coil' && point.closed[one] === 1)
      if (at === undefined) return null
      const [a, b] = [volts(element(at).from), volts(element(at).to)]
      return a === null || b === null ? null : a - b
    },
    temperature_degC: (component) => point.temperature_degC.get(component) ?? null,
    unknownLoads: (component) =>
      unknownAhead.size === 0 ? NO_NAMES : [...new Set(loadsAt(unknownAhead, wiring.carriersOf(component)).map(componentAt))],
    hasUnknownLoads: unknownAhead.size > 0,
    unknownResistances: (load) => {
      if (!hasHollow) return NO_NAMES
      const path = paths.pathsOf(wiring.drawOf(load))[0]
      const hollow = path ? [...path.feed, ...path.back].filter((at) => element(at).unknown) : []
      return [...new Set(hollow.map(componentAt))]
    },
    isOn: (load) => isOn(network, condition, load),
    works: (relay) => drawing.has(wiring.drawOf(relay)),
    lossFor: (load) => {
      const at = wiring.drawOf(load)
      if (at < 0 || !point.solved) return null
      const reach = paths.sourcesOf(at)
      let source: OperatingPoint['sources'][number] | null = null
      for (const one of point.sources)
        if (one.mode !== 'off' && reach.includes(one.component) && (!source || one.gives_A > source.gives_A)) source = one
      if (!source) return null
      const post = element(source.element)
      const { from, to } = element(at)
      const back = network.returnJoined.has(load) ? to : (network.chassis ?? to)
      const [up, plus, minus, down] = [volts(post.from), volts(from), volts(back), volts(post.to)]
      return up === null || plus === null || minus === null || down === null
        ? null
        : { feed_V: up - plus, return_V: minus - down, source: source.component }
    },
    alternators: point.alternators,
  }
}

const NONE: readonly number[] = []
const NO_NAMES: readonly string[] = []

/** Element → those of `loads` whose current passes it. Empty, and nothing walked, where there are none. */
function aheadOf(wiring: Wiring, loads: readonly number[]): ReadonlyMap<number, readonly number[]> {
  const ahead = new Map<number, number[]>()
  for (const load of loads) {
    for (const at of [load, ...wiring.paths.elementsAhead(load)]) {
      const known = ahead.get(at)
      if (known) known.push(load)
      else ahead.set(at, [load])
    }
  }
  return ahead
}

function isUnfed(wiring: Wiring, component: string, volts: (terminal: number) => number | null): boolean {
  const terminals = wiring.network.terminalsOf.get(component) ?? NONE
  return terminals.length > 0 && terminals.every((terminal) => volts(terminal) === null)
}

function contactsOf(wiring: Wiring, component: string, point: OperatingPoint): readonly ContactCurrent[] {
  const { network, paths } = wiring
  if (!point.solved) return []
  const byContact = new Map<string, { current_A: number; loads: Set<string> }>()
  for (const at of network.elementsOf.get(component) ?? NONE) {
    const { kind, to } = network.elements[at] as Element
    if ((kind !== 'contact-make' && kind !== 'contact-break' && kind !== 'series') || !network.joinsAt.has(to)) continue
    const contact =
      kind === 'contact-make' ? 'make' : kind === 'contact-break' ? 'break' : splitTerminal(network.terminals[to] as string).name
    const one = byContact.get(contact) ?? { current_A: 0, loads: new Set() }
    one.current_A += point.current_A[at] as number
    if (point.closed[at])
      for (const load of paths.loadsBehind(at))
        if (point.activeLoads.has(load)) one.loads.add((network.elements[load] as Element).component as string)
    byContact.set(contact, one)
  }
  return [...byContact].map(([contact, one]) => ({ contact, current_A: Math.abs(one.current_A), loads: [...one.loads] }))
}
