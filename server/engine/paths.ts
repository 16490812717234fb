/** Path questions: what lies between a source and a load, what is behind what, and how a test current divides. */
import type { Element, Network } from './network.ts'
import { factor, Pattern, solveFactored } from './sparse.ts'
import { type Piece, piecesTo, type Walk, walkFrom, wireGraph } from './wire-graph.ts'

/** Stands for a zero-ohm element where a test current has to divide. */
const DIVIDES_ohm = 1e-7

export type LoadPath = { readonly source: string; readonly feed: readonly number[]; readonly back: readonly number[] }

export type Paths = {
  /** load and coil elements behind an element, feed or return side */
  loadsBehind(element: number): readonly number[]
  /** paths of a load element, one per source that reaches both its ends */
  pathsOf(load: number): readonly LoadPath[]
  isFeed(element: number): boolean
  isReturn(element: number): boolean
  /** sources whose positive side reaches the element */
  sourcesOf(element: number): readonly string[]
  /** elements between a source and an element, source first, the element's own piece included */
  between(given: { readonly source: string; readonly element: number }): readonly number[]
  /** unsigned share of one ampere through every element on the way from the source to the far end of `element` */
  testCurrent(given: { readonly source: string; readonly element: number }): ReadonlyMap<number, number> | null
  testCurrentTo(given: {
    readonly source: string
    readonly terminal: number
    readonly side: 'feed' | 'return'
  }): ReadonlyMap<number, number> | null
}

type Reach = { readonly source: string; readonly plus: Walk; readonly minus: Walk }

export function pathsOf(network: Network): Paths {
  const graph = wireGraph(network)
  const reaches: Reach[] = []
  network.elements.forEach((element) => {
    if (element.kind !== 'source' || element.component === null) return
    const walk = (terminal: number) => walkFrom(graph, terminal, network.elements.length)
    reaches.push({ source: element.component, plus: walk(element.from), minus: walk(element.to) })
  })
  const behind = new Map<Walk, number[][]>()
  for (const { plus, minus } of reaches)
    for (const walk of [plus, minus])
      behind.set(
        walk,
        walk.pieces.map(() => []),
      )
  const loads = network.elements.flatMap((element, at) => (element.kind === 'load' || element.kind === 'coil' ? [at] : []))
  const ways = new Map<number, { reach: Reach; feed: readonly number[]; back: readonly number[] }[]>()
  for (const load of loads) {
    const element = network.elements[load] as Element
    const own: { reach: Reach; feed: readonly number[]; back: readonly number[] }[] = []
    for (const reach of reaches) {
      const feed = piecesTo(reach.plus, element.from)
      if (!feed) continue
      own.push({ reach, feed, back: piecesTo(reach.minus, element.to) ?? [] })
    }
    ways.set(load, own)
  }
  const mark = (load: number, target: number, depth: number) => {
    for (const { reach, feed, back } of ways.get(target) ?? []) {
      for (const piece of feed) behind.get(reach.plus)?.[piece]?.push(load)
      for (const piece of back) behind.get(reach.minus)?.[piece]?.push(load)
      // What a converter feeds is behind what feeds the converter.
      const input = converterInput(network, reach.source)
      if (input !== null && depth < 4) mark(load, input, depth + 1)
    }
  }
  for (const load of loads) mark(load, load, 0)
  const kept = new Map<number, readonly number[]>()
  const solved = new Map<string, ReadonlyMap<number, number>>()
  const walkOf = (source: string, side: 'feed' | 'return') => {
    const reach = reaches.find((one) => one.source === source)
    return reach && (side === 'feed' ? reach.plus : reach.minus)
  }
  const along = (walk: Walk, terminal: number, last?: number): ReadonlyMap<number, number> | null => {
    const pieces = piecesTo(walk, terminal)
    if (!pieces) return null
    const shares = new Map<number, number>()
    pieces.forEach((at, n) => {
      const piece = walk.pieces[at] as Piece
      const exit = n + 1 < pieces.length ? (walk.pieces[pieces[n + 1] as number] as Piece).top : terminal
      for (const [element, share] of divide(network, { piece, exit, solved, key: `${walk.root}:${at}:${exit}` })) shares.set(element, share)
    })
    if (last !== undefined && !shares.has(last)) shares.set(last, 1)
    return shares
  }
  const paths: Paths = {
    loadsBehind(element) {
      const known = kept.get(element)
      if (known) return known
      const found = new Set<number>()
      for (const [walk, lists] of behind) {
        const piece = walk.pieceOf[element] as number
        if (piece >= 0) for (const load of lists[piece] as number[]) found.add(load)
      }
      const list = [...found].sort((a, b) => a - b)
      kept.set(element, list)
      return list
    },
    pathsOf(load) {
      return (ways.get(load) ?? []).map(({ reach, feed, back }) => ({
        source: reach.source,
        feed: feed.flatMap((piece) => (reach.plus.pieces[piece] as Piece).elements),
        back: [...back].reverse().flatMap((piece) => (reach.minus.pieces[piece] as Piece).elements),
      }))
    },
    isFeed: (element) => reaches.some((reach) => (reach.plus.pieceOf[element] as number) >= 0),
    isReturn: (element) => reaches.some((reach) => (reach.minus.pieceOf[element] as number) >= 0),
    sourcesOf: (element) => reaches.filter((reach) => (reach.plus.pieceOf[element] as number) >= 0).map((reach) => reach.source),
    between({ source, element }) {
      const walk = walkOf(source, 'feed')
      const own = walk?.pieceOf[element] ?? -1
      if (!walk || own < 0) return []
      const chain: number[] = []
      for (let piece = own; piece >= 0; piece = (walk.pieces[piece] as Piece).parent) chain.push(piece)
      return chain.reverse().flatMap((piece) => (walk.pieces[piece] as Piece).elements)
    },
    testCurrent({ source, element }) {
      const walk = walkOf(source, 'feed')
      if (!walk || (walk.pieceOf[element] as number) < 0) return null
      const { from, to } = network.elements[element] as Element
      const piece = walk.pieceOf[element] as number
      const far = walk.entry[to] === piece && (walk.pieces[piece] as Piece).top !== to ? to : from
      return along(walk, far, element)
    },
    testCurrentTo({ source, terminal, side }) {
      const walk = walkOf(source, side)
      return walk ? along(walk, terminal) : null
    },
  }
  return paths
}

/** One ampere into a piece at its top and out at `exit`: the unsigned share of each element inside. */
function divide(
  network: Network,
  given: { piece: Piece; exit: number; solved: Map<string, ReadonlyMap<number, number>>; key: string },
): ReadonlyMap<number, number> {
  const { piece, exit, solved, key } = given
  if (piece.elements.length <= 1 && piece.vertices.length <= 2) return new Map(piece.elements.map((element) => [element, 1]))
  const known = solved.get(key)
  if (known) return known
  const number = new Map<number, number>()
  for (const vertex of piece.vertices) if (vertex !== piece.top) number.set(vertex, number.size)
  const edges: { a: number; b: number; siemens: number; element: number }[] = piece.elements.map((at) => {
    const element = network.elements[at] as Element
    return { a: element.from, b: element.to, siemens: 1 / (element.ohm || DIVIDES_ohm), element: at }
  })
  let hub = network.terminals.length
  for (const terminals of network.oneNode.values()) {
    if (number.has(hub) || piece.top === hub) {
      for (const terminal of terminals)
        if (number.has(terminal) || terminal === piece.top) edges.push({ a: hub, b: terminal, siemens: 1 / DIVIDES_ohm, element: -1 })
    }
    hub++
  }
  const at = (vertex: number) => number.get(vertex) ?? -1
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
  const volts = new Float64Array(number.size)
  if (at(exit) >= 0) volts[at(exit)] = 1
  const shares = new Map<number, number>()
  if (factor(pattern, values)) {
    solveFactored(pattern, values, volts)
    const v = (vertex: number) => (at(vertex) < 0 ? 0 : (volts[at(vertex)] as number))
    for (const edge of edges) if (edge.element >= 0) shares.set(edge.element, Math.abs(v(edge.a) - v(edge.b)) * edge.siemens)
  }
  solved.set(key, shares)
  return shares
}

function converterInput(network: Network, source: string): number | null {
  const own = network.elementsOf.get(source) ?? []
  return own.find((at) => (network.elements[at] as Element).kind === 'load') ?? null
}
