/** Path questions: what lies between a source and a load, what is behind what, how a test current divides. Long because they share one walk. */
import { type Element, loadEnds, type Network } from './network.ts'
import { factor, Pattern, solveFactored } from './sparse.ts'
import { elementsOf, isBridge, piecesDownTo, piecesTo, verticesIn, type Walk, type WireGraph, walkFrom, wireGraph } from './wire-graph.ts'

/** Stands for a zero-ohm element where a test current has to divide. */
const DIVIDES_ohm = 1e-7

export type LoadPath = { readonly source: string; readonly feed: readonly number[]; readonly back: readonly number[] }

export type Paths = {
  readonly graph: WireGraph
  /** elements on a simple path between the positive posts of two sources; empty where none leads from one to the other */
  linkBetween(source: string, other: string): readonly number[]
  /** load and coil elements behind an element, feed or return side, by number */
  loadsBehind(element: number): readonly number[]
  /** every element that has this load behind it, the sources' own included */
  elementsAhead(load: number): readonly number[]
  /** paths of a load element, one per source that reaches its positive side */
  pathsOf(load: number): readonly LoadPath[]
  isFeed(element: number): boolean
  isReturn(element: number): boolean
  /** sources whose positive side reaches the element; for a load, its positive end */
  sourcesOf(element: number): readonly string[]
  /** fuse and breaker elements between a source and an element, source first, the element's own piece included; `alone`: those no other way goes round */
  devicesBetween(given: { readonly source: string; readonly element: number; readonly alone?: boolean }): readonly number[]
  /** the terminal of an element that lies further from the source; null where the source does not reach it */
  farEnd(given: { readonly source: string; readonly element: number }): number | null
  /** whether the way from the source to an element has no other way round any of it: all of a test current passes all of it */
  isPlain(given: { readonly source: string; readonly element: number }): boolean
  /** the same of a load's way there and back */
  isPlainLoop(given: { readonly source: string; readonly load: number }): boolean
  /** every element on the way from the source to an element */
  wayTo(given: { readonly source: string; readonly element: number }): readonly number[]
  /** every element between a terminal on the return side and the source */
  wayBack(given: { readonly source: string; readonly terminal: number }): readonly number[]
  /** unsigned share of one ampere through every element on the way from the source to the far end of `element` */
  testCurrent(given: { readonly source: string; readonly element: number }): ReadonlyMap<number, number> | null
  testCurrentTo(given: {
    readonly source: string
    readonly terminal: number
    readonly side: 'feed' | 'return'
  }): ReadonlyMap<number, number> | null
}

type Reach = {
  readonly source: string
  /** the source's own element */
  readonly element: number
  readonly plus: Walk
  readonly minus: Walk
  /** loads behind each piece of the two walks, where there are any */
  readonly behindPlus: (number[] | undefined)[]
  readonly behindMinus: (number[] | undefined)[]
  /** fuses and breakers down to each piece of the feed walk, where asked */
  readonly devices: (Devices | undefined)[]
  /** how a test current divides in a piece of more than one way */
  readonly dividers: Map<string, Divider>
}
/** Fuse and breaker elements from the source to a piece, itself included; `alone`: those no other way goes round. */
type Devices = { readonly all: readonly number[]; readonly alone: readonly number[] }
type Way = { readonly reach: Reach; readonly feed: readonly number[]; readonly back: readonly number[] }

export function pathsOf(network: Network): Paths {
  const graph = wireGraph(network)
  const reaches: Reach[] = []
  const bySource = new Map<string, Reach>()
  network.elements.forEach((element, at) => {
    if (element.kind !== 'source' || element.component === null) return
    const plus = walkFrom(graph, element.from, network.elements.length)
    const minus = walkFrom(graph, element.to, network.elements.length)
    const reach = { source: element.component, element: at, plus, minus, behindPlus: [], behindMinus: [], devices: [], dividers: new Map() }
    reaches.push(reach)
    bySource.set(reach.source, reach)
  })
  const ways = waysOf(network, reaches)
  const inputs = new Map(reaches.map((reach) => [reach, converterInput(network, reach.source)]))
  // What a converter feeds is behind what feeds the converter.
  const waysThrough = (load: number, depth = 0): readonly Way[] => {
    const own = ways.get(load) ?? []
    if (depth === 4) return own
    const further = own.flatMap((way) => {
      const input = inputs.get(way.reach) ?? null
      return input === null ? [] : waysThrough(input, depth + 1)
    })
    return further.length === 0 ? own : [...own, ...further]
  }
  for (const load of ways.keys()) {
    for (const { reach, feed, back } of waysThrough(load)) {
      for (const piece of feed) put(reach.behindPlus, piece, load)
      for (const piece of back) put(reach.behindMinus, piece, load)
    }
  }
  const behind: (readonly number[] | undefined)[] = new Array(network.elements.length)
  const pathsOfLoad = new Map<number, readonly LoadPath[]>()
  const along = (given: { reach: Reach; side: 'feed' | 'return'; terminal: number }): Map<number, number> | null => {
    const { reach, side, terminal } = given
    const walk = side === 'feed' ? reach.plus : reach.minus
    const pieces = piecesTo(walk, terminal)
    if (!pieces) return null
    const shares = new Map<number, number>()
    pieces.forEach((piece, n) => {
      if (isBridge(walk, piece)) {
        for (const element of elementsOf(walk, [piece])) shares.set(element, 1)
        return
      }
      const key = `${side}${piece}`
      const divider = reach.dividers.get(key) ?? dividerOf(network, walk, piece)
      reach.dividers.set(key, divider)
      const exit = n + 1 < pieces.length ? (walk.top[pieces[n + 1] as number] as number) : terminal
      for (const [element, share] of divide(divider, exit)) shares.set(element, share)
    })
    return shares
  }
  return {
    graph,
    linkBetween(source, other) {
      const [here, there] = [bySource.get(source)?.plus, bySource.get(other)?.plus]
      if (!here || !there) return []
      return elementsOf(here, piecesTo(here, there.root) ?? [])
    },
    loadsBehind(element) {
      const known = behind[element]
      if (known) return known
      const lists: (readonly number[])[] = []
      for (const reach of reaches) {
        const [feed, back] = [reach.plus.pieceOf[element] as number, reach.minus.pieceOf[element] as number]
        if (feed >= 0 && reach.behindPlus[feed]) lists.push(reach.behindPlus[feed])
        if (back >= 0 && reach.behindMinus[back]) lists.push(reach.behindMinus[back])
      }
      const [only, ...others] = lists
      const list = only?.length === 1 && others.length === 0 ? only : [...new Set(lists.flat())].sort((a, b) => a - b)
      behind[element] = list
      return list
    },
    elementsAhead(load) {
      const found = new Set<number>()
      for (const { reach, feed, back } of waysThrough(load)) {
        for (const element of elementsOf(reach.plus, feed)) found.add(element)
        for (const element of elementsOf(reach.minus, back)) found.add(element)
        found.add(reach.element)
      }
      return [...found]
    },
    pathsOf(load) {
      const known = pathsOfLoad.get(load)
      if (known) return known
      const list = (ways.get(load) ?? []).map(({ reach, feed, back }) => ({
        source: reach.source,
        feed: elementsOf(reach.plus, feed),
        back: elementsOf(reach.minus, [...back].reverse()),
      }))
      pathsOfLoad.set(load, list)
      return list
    },
    isFeed: (element) => reaches.some((reach) => (reach.plus.pieceOf[element] as number) >= 0),
    isReturn: (element) => reaches.some((reach) => (reach.minus.pieceOf[element] as number) >= 0),
    sourcesOf(element) {
      const own = ways.get(element)
      if (own) return own.map((way) => way.reach.source)
      const found: string[] = []
      for (const reach of reaches) if ((reach.plus.pieceOf[element] as number) >= 0) found.push(reach.source)
      return found
    },
    devicesBetween({ source, element, alone = false }) {
      const reach = bySource.get(source)
      if (!reach) return NONE
      const load = ways.get(element)?.find((way) => way.reach === reach)
      const last = load ? (load.feed.at(-1) ?? -1) : (reach.plus.pieceOf[element] as number)
      if (last < 0) return NONE
      const devices = devicesDownTo(network, reach, last)
      return alone ? devices.alone : devices.all
    },
    farEnd({ source, element }) {
      const walk = bySource.get(source)?.plus
      const own = walk?.pieceOf[element] ?? -1
      if (!walk || own < 0) return null
      const { from, to } = network.elements[element] as Element
      return walk.entry[to] === own && walk.top[own] !== to ? to : from
    },
    isPlain({ source, element }) {
      const walk = bySource.get(source)?.plus
      const own = walk?.pieceOf[element] ?? -1
      if (!walk || own < 0) return false
      for (let piece = own; piece >= 0; piece = walk.parent[piece] as number) if (!isBridge(walk, piece)) return false
      return true
    },
    isPlainLoop({ source, load }) {
      const way = ways.get(load)?.find((one) => one.reach.source === source)
      if (!way) return false
      const { plus, minus } = way.reach
      return way.feed.every((piece) => isBridge(plus, piece)) && way.back.every((piece) => isBridge(minus, piece))
    },
    wayTo({ source, element }) {
      const walk = bySource.get(source)?.plus
      const own = walk?.pieceOf[element] ?? -1
      return !walk || own < 0 ? [] : elementsOf(walk, piecesDownTo(walk, own))
    },
    wayBack({ source, terminal }) {
      const walk = bySource.get(source)?.minus
      return walk ? elementsOf(walk, piecesTo(walk, terminal) ?? []) : []
    },
    testCurrent({ source, element }) {
      const reach = bySource.get(source)
      const terminal = this.farEnd({ source, element })
      if (!reach || terminal === null) return null
      const shares = along({ reach, side: 'feed', terminal })
      if (shares && !shares.has(element)) shares.set(element, 1)
      return shares
    },
    testCurrentTo({ source, terminal, side }) {
      const reach = bySource.get(source)
      return reach ? along({ reach, side, terminal }) : null
    },
  }
}

const NONE: readonly number[] = []

function devicesDownTo(network: Network, reach: Reach, piece: number): Devices {
  const known = reach.devices[piece]
  if (known) return known
  const walk = reach.plus
  const parent = walk.parent[piece] as number
  const above = parent < 0 ? { all: NONE, alone: NONE } : devicesDownTo(network, reach, parent)
  const own = elementsOf(walk, [piece]).filter((at) => isDevice(network, at))
  const made =
    own.length === 0 ? above : { all: [...above.all, ...own], alone: isBridge(walk, piece) ? [...above.alone, ...own] : above.alone }
  reach.devices[piece] = made
  return made
}

function put(lists: (number[] | undefined)[], piece: number, load: number): void {
  const known = lists[piece]
  if (known) known.push(load)
  else lists[piece] = [load]
}

/** Load and coil elements with the pieces between each and every source that reaches its positive side. */
function waysOf(network: Network, reaches: readonly Reach[]): ReadonlyMap<number, readonly Way[]> {
  const ways = new Map<number, readonly Way[]>()
  network.elements.forEach((element, at) => {
    if (element.kind !== 'load' && element.kind !== 'coil') return
    const own: Way[] = []
    for (const reach of reaches) {
      const feed = piecesTo(reach.plus, element.from)
      if (feed) own.push({ reach, feed, back: piecesTo(reach.minus, loadEnds(network, element)[1]) ?? [] })
    }
    ways.set(at, own)
  })
  return ways
}

function isDevice(network: Network, at: number): boolean {
  const component = (network.elements[at] as Element).component
  if (component === null) return false
  const kind = network.parts.get(network.components.get(component)?.part ?? '')?.kind
  return kind === 'fuse' || kind === 'breaker'
}

/** A piece ready to divide a test current: its conductances to the top, factored once for all exits. */
type Divider = {
  readonly number: ReadonlyMap<number, number>
  readonly edges: readonly { readonly a: number; readonly b: number; readonly siemens: number; readonly element: number }[]
  readonly pattern: Pattern
  readonly factored: Float64Array | null
}

/** One ampere into a piece at its top and out at `exit`: the unsigned share of each element inside. */
function divide(divider: Divider, exit: number): ReadonlyMap<number, number> {
  const { number, edges, pattern, factored } = divider
  const at = (vertex: number) => number.get(vertex) ?? -1
  const volts = new Float64Array(number.size)
  if (at(exit) >= 0) volts[at(exit)] = 1
  const shares = new Map<number, number>()
  if (!factored) return shares
  solveFactored(pattern, factored, volts)
  const v = (vertex: number) => (at(vertex) < 0 ? 0 : (volts[at(vertex)] as number))
  for (const edge of edges) if (edge.element >= 0) shares.set(edge.element, Math.abs(v(edge.a) - v(edge.b)) * edge.siemens)
  return shares
}

function dividerOf(network: Network, walk: Walk, piece: number): Divider {
  const top = walk.top[piece] as number
  const number = new Map<number, number>()
  for (const vertex of verticesIn(walk, piece)) if (vertex !== top) number.set(vertex, number.size)
  const at = (vertex: number) => number.get(vertex) ?? -1
  const edges = elementsOf(walk, [piece]).map((element) => {
    const { from, to, ohm } = network.elements[element] as Element
    return { a: from, b: to, siemens: 1 / (ohm || DIVIDES_ohm), element }
  })
  let hub = network.terminals.length
  for (const terminals of network.oneNode.values()) {
    if (number.has(hub) || top === hub) {
      for (const terminal of terminals)
        if (number.has(terminal) || terminal === top) edges.push({ a: hub, b: terminal, siemens: 1 / DIVIDES_ohm, element: -1 })
    }
    hub++
  }
  const pattern = new Pattern(
    number.size,
    edges.flatMap((edge): [number, number][] => (at(edge.a) >= 0 && at(edge.b) >= 0 ? [[at(edge.a), at(edge.b)]] : [])),
  )
  const values = pattern.values()
  for (const edge of edges) {
    const [i, j] = [at(edge.a), at(edge.b)]
    if (i >= 0) values[pattern.position(i, i)] = (values[pattern.position(i, i)] as number) + edge.siemens
    if (j >= 0) values[pattern.position(j, j)] = (values[pattern.position(j, j)] as number) + edge.siemens
    if (i >= 0 && j >= 0) values[pattern.position(i, j)] = (values[pattern.position(i, j)] as number) - edge.siemens
  }
  return { number, edges, pattern, factored: factor(pattern, values) ? values : null }
}

function converterInput(network: Network, source: string): number | null {
  const own = network.elementsOf.get(source) ?? []
  return own.find((at) => (network.elements[at] as Element).kind === 'load') ?? null
}
