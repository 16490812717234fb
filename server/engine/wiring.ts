/** Answers about a vehicle's wiring that do not depend on what is on. Long because it is one set of answers. */
import type { Circuit, Known } from './circuit.ts'
import { devicesSideBySide, type Faults, faultsOf } from './fault-currents.ts'
import { crossSectionOf, type Element, loadEnds, type Network, ratingOf, statedRating } from './network.ts'
import type { Paths } from './paths.ts'
import { type UnfusedRun, unfusedRuns } from './unfused.ts'
import type { Component, Grade, Part } from './vehicle.ts'

/** The circuit's answers that hold in every condition, and which elements stand for which component. */
export type Wiring = Omit<Circuit, 'doc' | 'conditions' | 'conditionsAreMade'> & {
  readonly network: Network
  readonly paths: Paths
  /** the component's own elements that carry its current: not its coil, not its draw, not its source */
  wiresOf(component: string): readonly number[]
  /** the same; for a shared node the joins that meet there; for a load or source the thing itself */
  carriersOf(component: string): readonly number[]
  /** the element that draws for a load or a relay's coil; −1 where there is none */
  drawOf(load: string): number
}

export function wiringOf(network: Network, paths: Paths): Wiring {
  const { elements } = network
  const numberOf = new Map([...network.components.keys()].map((key, n) => [key, n]))
  /** Each component's answer, worked out once. */
  const once = <T>(answer: (component: string) => T): ((component: string) => T) => {
    const kept: (T | undefined)[] = new Array(numberOf.size)
    return (component) => {
      const n = numberOf.get(component) ?? -1
      const known = kept[n]
      if (known !== undefined) return known
      const made = answer(component)
      if (n >= 0) kept[n] = made
      return made
    }
  }
  const part = once((component) => network.parts.get(network.components.get(component)?.part ?? '') as Part)
  const kindOf = (component: string) => part(component).kind
  const byKind = new Map<string, string[]>()
  for (const key of network.components.keys()) {
    const kind = kindOf(key)
    const known = byKind.get(kind)
    if (known) known.push(key)
    else byKind.set(kind, [key])
  }
  /** the same by several kinds */
  const ofSeveral = new Map<string, readonly string[]>()
  const stated = new Set([...network.parts.values()].flatMap((one) => Object.keys(one.ratings)))
  const nodeAt = new Map<number, string>()
  for (const [key, terminals] of network.oneNode) for (const terminal of terminals) nodeAt.set(terminal, key)
  const own = (component: string) => network.elementsOf.get(component) ?? []
  const wiresOf = once((component) => own(component).filter((at) => !isEnd(elements[at] as Element)))
  const carriersOf = once((component): readonly number[] => {
    const wires = wiresOf(component)
    if (wires.length > 0) return wires
    const terminals = network.oneNode.get(component)
    return terminals ? terminals.flatMap((terminal) => network.joinsAt.get(terminal) ?? []) : own(component)
  })
  const drawOf = once((load) => own(load).find((at) => isDraw(elements[at] as Element)) ?? -1)
  const componentAt = (load: number) => (elements[load] as Element).component as string
  /** The components of those devices, each of one element; the one that asks left out. */
  const namesBut = (component: string, devices: readonly number[]): readonly string[] => {
    const found: string[] = []
    for (const at of devices) if (componentAt(at) !== component) found.push(componentAt(at))
    return found
  }
  const isDrawn = (component: string) => ['load', 'pump'].includes(kindOf(component))
  const loadsBehind = once((component): readonly string[] => {
    const carriers = carriersOf(component)
    const only = carriers.length === 1 ? paths.loadsBehind(carriers[0] as number) : null
    if (only && only.length <= 1 && !isDrawn(component)) return only.map(componentAt).filter((load) => load !== component)
    const found = new Set<string>()
    for (const at of carriersOf(component)) for (const load of paths.loadsBehind(at)) found.add(componentAt(load))
    if (!isDrawn(component)) found.delete(component)
    return [...found].sort()
  })
  const componentsIn = (path: readonly number[]): readonly string[] => {
    const found = new Set<string>()
    for (const at of path) {
      const element = elements[at] as Element
      if (element.component !== null) found.add(element.component)
      else
        for (const terminal of [element.from, element.to]) {
          const node = nodeAt.get(terminal)
          if (node !== undefined) found.add(node)
        }
    }
    return [...found]
  }
  const sourcesOf = once((component): readonly string[] => {
    const carriers = carriersOf(component)
    if (carriers.length === 1) return paths.sourcesOf(carriers[0] as number)
    return [...new Set(carriers.flatMap((at) => paths.sourcesOf(at)))]
  })
  const feedOf = once((load) => componentsIn(paths.pathsOf(drawOf(load))[0]?.feed ?? []))
  const returnOf = once((load) => componentsIn(paths.pathsOf(drawOf(load))[0]?.back ?? []))
  const nominal_V = once((component) => nominalOf(network, paths.sourcesOf(own(component)[0] ?? -1)))
  const runs = new Map<string, ReadonlyMap<string, UnfusedRun>>()
  const runsFrom = (source: string): ReadonlyMap<string, UnfusedRun> => {
    const known = runs.get(source)
    if (known) return known
    const root = network.terminalNumber.get(`${source}:+`)
    const made = root === undefined ? new Map<string, UnfusedRun>() : unfusedRuns({ network, graph: paths.graph, root })
    runs.set(source, made)
    return made
  }
  let sideBySide: ReadonlyMap<string, readonly string[]> | null = null
  let faults: Faults | null = null
  const faultsHere = () => {
    faults ??= faultsOf(network, paths)
    return faults
  }
  let links: ReadonlyMap<string, readonly (readonly [string, string])[]> | null = null
  let leads: ReadonlySet<string> | null = null
  const leadsHere = (): ReadonlySet<string> => {
    leads ??= new Set(
      (byKind.get('alternator') ?? []).flatMap((one) =>
        (byKind.get('battery') ?? []).flatMap((other) => componentsIn(paths.linkBetween(one, other))),
      ),
    )
    return leads
  }
  // With no body recorded a short can only return by a load's own wire.
  const hasBody = byKind.has('chassis') || byKind.has('ground-point')
  const marked = [...network.components.values()].filter((component) => component.unfinished !== undefined)
  const unfinishedNear = once((component) =>
    marked.length === 0 ? [] : unfinishedTexts({ component, marked, loadsBehind, componentsIn, paths, drawOf }),
  )
  const answers = new Map<string, Map<string, unknown>>()
  return {
    keep: <T>(question: string, component: string, answer: () => T): T => {
      let known = answers.get(question)
      if (!known) {
        known = new Map()
        answers.set(question, known)
      }
      const kept = known.get(component) as T | undefined
      if (kept !== undefined) return kept
      const made = answer()
      known.set(component, made)
      return made
    },
    network,
    paths,
    wiresOf,
    carriersOf,
    drawOf,
    component: (key) => network.components.get(key) as Component,
    part,
    kindOf,
    componentsOf: (...kinds) => {
      if (kinds.length === 1) return byKind.get(kinds[0] as string) ?? []
      const asked = kinds.join(' ')
      const known = ofSeveral.get(asked) ?? [...network.components.keys()].filter((key) => kinds.includes(kindOf(key)))
      ofSeveral.set(asked, known)
      return known
    },
    rawRating: (component, name) => part(component).ratings[name] ?? null,
    rating: (component, name) => {
      const own = part(component)
      return statedRating(own, name) ?? ratingOf({ part: own, name, nominal_V: nominal_V(component) })
    },
    ambient_degC: once((component) => ambientOf(network, component)),
    crossSection_mm2: once((conductor) => crossSectionOf(part(conductor))),
    zoneOf: (component) => network.zones.get(network.components.get(component)?.zone ?? '') ?? null,
    nominal_V,
    isFeed: (conductor) => wiresOf(conductor).some((at) => paths.isFeed(at)),
    isReturn: (conductor) => wiresOf(conductor).some((at) => paths.isReturn(at)),
    waysOf: (component) => network.joined.get(component) ?? [],
    joinsOf: (component) =>
      (network.joined.get(component) ?? []).flatMap((own) => {
        const at = network.terminalNumber.get(own) ?? -1
        return (network.joinsAt.get(at) ?? []).map((join) => {
          const { from, to } = elements[join] as Element
          return { own, other: network.terminals[from === at ? to : from] as string }
        })
      }),
    loadsBehind,
    loadsBehindWay: (terminal) => {
      const joins = network.joinsAt.get(network.terminalNumber.get(terminal) ?? -1) ?? []
      return [...new Set(joins.flatMap((at) => paths.loadsBehind(at)).map(componentAt))].sort()
    },
    feedOf,
    returnOf,
    feedFrom: ({ source, load }) => {
      const ways = paths.pathsOf(drawOf(load))
      return ways[0]?.source === source ? feedOf(load) : componentsIn(ways.find((path) => path.source === source)?.feed ?? NONE)
    },
    returnTo: ({ source, load }) => {
      const ways = paths.pathsOf(drawOf(load))
      return ways[0]?.source === source ? returnOf(load) : componentsIn(ways.find((path) => path.source === source)?.back ?? NONE)
    },
    hasReturn: (load) => network.returnJoined.has(load) && paths.pathsOf(drawOf(load)).some((path) => path.back.length > 0),
    resistanceGrades: once((load) => resistanceGrades({ load, feedOf, returnOf, part })),
    sourcesOf,
    devicesBetween: (source, component) => {
      const carriers = carriersOf(component)
      const lists = carriers.map((element) => paths.devicesBetween({ source, element }))
      return namesBut(component, lists.length === 1 ? (lists[0] as readonly number[]) : [...new Set(lists.flat())])
    },
    isPlainFeed: ({ source, component }) => {
      const carriers = carriersOf(component)
      return carriers.length === 1 && paths.isPlain({ source, element: carriers[0] as number })
    },
    isPlainLoop: ({ source, load }) => paths.isPlainLoop({ source, load: drawOf(load) }),
    isStated: (rating) => stated.has(rating),
    unfusedRun: ({ source, conductor }) => runsFrom(source).get(conductor) ?? null,
    batteriesLinkedBy: (component) => {
      links ??= linksOf({ batteries: byKind.get('battery') ?? [], paths, componentsIn })
      return links.get(component) ?? []
    },
    isAlternatorLead: (component) => leadsHere().has(component),
    contactOf: once((load) => {
      return (
        feedOf(load).findLast((key) => CONTACTS.includes(kindOf(key))) ?? returnOf(load).find((key) => CONTACTS.includes(kindOf(key))) ?? ''
      )
    }),
    faultAt: ({ source, conductor }) => {
      const ahead = paths.devicesBetween({ source, element: wiresOf(conductor)[0] ?? -1 }).length
      // A load's own return lies beside the conductor only where no further device parts them.
      const loads = hasBody
        ? loadsBehind(conductor).filter((load) => paths.devicesBetween({ source, element: drawOf(load) }).length === ahead)
        : loadsBehind(conductor)
      return faultsHere().clearing({ source, conductor, loads })
    },
    prospectiveAt: once((device) => faultsHere().breaking(device)),
    devicesAhead: (source, component) =>
      namesBut(component, paths.devicesBetween({ source, element: carriersOf(component)[0] ?? -1, alone: true })),
    devicesBeside: (device) => {
      sideBySide ??= devicesSideBySide(network)
      return sideBySide.get(device) ?? []
    },
    testCurrent: ({ source, conductor }) => sharesBy(network, paths.testCurrent({ source, element: wiresOf(conductor)[0] ?? -1 })),
    testCurrentAtLoad: ({ source, load }) => {
      const element = elements[drawOf(load)]
      if (!element) return null
      const feed = paths.testCurrentTo({ source, terminal: element.from, side: 'feed' })
      const back = paths.testCurrentTo({ source, terminal: loadEnds(network, element)[1], side: 'return' })
      return feed && back && sharesBy(network, new Map([...feed, ...back]))
    },
    isStarterPath: once((conductor) =>
      loadsBehind(conductor).some(
        (load) =>
          part(load).ratings.starter === true &&
          paths
            .pathsOf(drawOf(load))
            .some(
              (path) =>
                isBeforeDevice({ network, feed: path.feed, conductor, kindOf }) ||
                path.back.some((at) => (elements[at] as Element).component === conductor),
            ),
      ),
    ),
    unfinishedNear,
  }
}

/** Component → the pairs of batteries between whose positive posts it lies. */
function linksOf(given: {
  batteries: readonly string[]
  paths: Paths
  componentsIn: (elements: readonly number[]) => readonly string[]
}): ReadonlyMap<string, readonly (readonly [string, string])[]> {
  const { batteries, paths, componentsIn } = given
  const found = new Map<string, (readonly [string, string])[]>()
  batteries.forEach((one, n) => {
    for (const other of batteries.slice(n + 1)) {
      for (const component of componentsIn(paths.linkBetween(one, other))) {
        const known = found.get(component)
        if (known) known.push([one, other])
        else found.set(component, [[one, other]])
      }
    }
  })
  return found
}

/** Texts of unfinished changes on the component's own feed and return paths. */
function unfinishedTexts(given: {
  component: string
  marked: readonly Component[]
  loadsBehind: (component: string) => readonly string[]
  componentsIn: (elements: readonly number[]) => readonly string[]
  paths: Paths
  drawOf: (load: string) => number
}): readonly string[] {
  const { component, marked, loadsBehind, componentsIn, paths, drawOf } = given
  const near = new Set([component])
  for (const load of [...loadsBehind(component), component]) {
    const at = drawOf(load)
    if (at < 0) continue
    for (const path of paths.pathsOf(at)) for (const key of componentsIn([...path.feed, ...path.back])) near.add(key)
    near.add(load)
  }
  return marked.filter((one) => near.has(one.key)).map((one) => one.unfinished as string)
}

/** Grades of the figures behind the volts lost on a load's way there and back: its own draw, each conductor's size, each contact and fuse. */
function resistanceGrades(given: {
  load: string
  feedOf: (load: string) => readonly string[]
  returnOf: (load: string) => readonly string[]
  part: (component: string) => Part
}): readonly Grade[] {
  const { load, feedOf, returnOf, part } = given
  const grades: Grade[] = [gradeOf(part(load), DRAWN)]
  for (const way of [feedOf(load), returnOf(load)]) {
    for (const key of way) {
      const own = part(key)
      const names = RESISTING[own.kind]
      const grade = names && gradeOf(own, names)
      if (grade && !grades.includes(grade)) grades.push(grade)
    }
  }
  return grades
}

const DRAWN = ['current_A', 'power_W']
/** By kind of part: the ratings that its resistance rests on, the first that is stated. */
const RESISTING: Readonly<Record<string, readonly string[]>> = {
  conductor: ['resistance20_ohmPerM', 'crossSection_mm2', 'size'],
  relay: ['contactResistance_ohm'],
  fuse: ['resistance_ohm'],
  breaker: ['resistance_ohm'],
}

function gradeOf(part: Part, names: readonly string[]): Grade {
  for (const name of names) if (part.ratings[name] !== undefined) return part.evidence?.[name] ?? 'assumed'
  return 'typical'
}

const NONE: readonly number[] = []
const CONTACTS: readonly string[] = ['relay', 'switch', 'module']

function nominalOf(network: Network, sources: readonly string[]): number {
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

function sharesBy(network: Network, shares: ReadonlyMap<number, number> | null): ((component: string) => number) | null {
  if (!shares) return null
  return (component) => {
    let sum = 0
    for (const at of network.elementsOf.get(component) ?? []) sum += shares.get(at) ?? 0
    return sum
  }
}

function isBeforeDevice(given: {
  network: Network
  feed: readonly number[]
  conductor: string
  kindOf: (component: string) => string
}): boolean {
  const { network, feed, conductor, kindOf } = given
  for (const at of feed) {
    const key = (network.elements[at] as Element).component
    if (key === conductor) return true
    if (key !== null && ['fuse', 'breaker'].includes(kindOf(key))) return false
  }
  return false
}

function isDraw(element: Element): boolean {
  return element.kind === 'load' || element.kind === 'coil'
}

function isEnd(element: Element): boolean {
  return isDraw(element) || element.kind === 'source'
}
