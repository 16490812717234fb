/** Biconnected pieces of the wire graph: what lies on a simple path from a source. Hopcroft and Tarjan, 1973. */
import type { Element, Network } from './network.ts'

/** A walk from one root over all wires (joins, series elements, contacts, shared nodes), everything closed. */
export type Walk = {
  readonly root: number
  /** for each vertex: the piece through which it was reached; −1 at the root, −2 where not reached */
  readonly entry: Int32Array
  readonly pieces: readonly Piece[]
  /** element → piece, or −1 */
  readonly pieceOf: Int32Array
}

export type Piece = {
  /** piece nearer the root, or −1 */
  readonly parent: number
  /** vertex shared with the side nearer the root */
  readonly top: number
  /** elements inside (shared-node links are not elements) */
  readonly elements: readonly number[]
  readonly vertices: readonly number[]
}

/** Links in compressed rows: those of vertex v stand at `start[v]` … `start[v + 1] − 1`. */
export type WireGraph = {
  readonly size: number
  readonly start: Int32Array
  readonly to: Int32Array
  /** link → element, −1 for a shared node's link */
  readonly element: Int32Array
  /** link → number of the edge, the same from both ends */
  readonly edge: Int32Array
}

/** Vertices are terminals, and one hub more per one-node component. */
export function wireGraph(network: Network): WireGraph {
  const ends: number[] = []
  const elements: number[] = []
  network.elements.forEach((element, at) => {
    if (!isWalked(element)) return
    ends.push(element.from, element.to)
    elements.push(at)
  })
  let size = network.terminals.length
  for (const terminals of network.oneNode.values()) {
    for (const terminal of terminals) {
      ends.push(size, terminal)
      elements.push(-1)
    }
    size++
  }
  const start = new Int32Array(size + 1)
  for (const end of ends) start[end + 1] = (start[end + 1] as number) + 1
  for (let n = 0; n < size; n++) start[n + 1] = (start[n + 1] as number) + (start[n] as number)
  const next = start.slice(0, size)
  const [to, element, edge] = [new Int32Array(ends.length), new Int32Array(ends.length), new Int32Array(ends.length)]
  elements.forEach((at, n) => {
    const [a, b] = [ends[2 * n] as number, ends[2 * n + 1] as number]
    for (const [here, there] of [
      [a, b],
      [b, a],
    ] as const) {
      const link = next[here] as number
      next[here] = link + 1
      to[link] = there
      element[link] = at
      edge[link] = n
    }
  })
  return { size, start, to, element, edge }
}

/** The pieces reached from `root`, each knowing the one nearer the root. */
export function walkFrom(graph: WireGraph, root: number, elementCount: number): Walk {
  const { size, start, to } = graph
  const depth = new Int32Array(size).fill(-1)
  const low = new Int32Array(size)
  const next = start.slice(0, size)
  const via = new Int32Array(size).fill(-1)
  const parent = new Int32Array(size).fill(-1)
  const entry = new Int32Array(size).fill(-2)
  const pieceOf = new Int32Array(elementCount).fill(-1)
  const pieces: { parent: number; top: number; elements: number[]; vertices: number[] }[] = []
  /** links not yet in a piece, with the vertex each was followed from */
  const links: number[] = []
  const from: number[] = []
  const path = [root]
  depth[root] = 0
  entry[root] = -1
  while (path.length > 0) {
    const at = path[path.length - 1] as number
    const link = next[at] as number
    if (link < (start[at + 1] as number)) {
      next[at] = link + 1
      if (graph.edge[link] === via[at]) continue
      const other = to[link] as number
      const known = depth[other] as number
      if (known >= 0 && known >= (depth[at] as number)) continue
      links.push(link)
      from.push(at)
      if (known >= 0) {
        low[at] = Math.min(low[at] as number, known)
        continue
      }
      depth[other] = (depth[at] as number) + 1
      low[other] = depth[other] as number
      via[other] = graph.edge[link] as number
      parent[other] = at
      path.push(other)
      continue
    }
    path.pop()
    const up = parent[at] as number
    if (up < 0) continue
    low[up] = Math.min(low[up] as number, low[at] as number)
    if ((low[at] as number) >= (depth[up] as number))
      pieces.push(takePiece(graph, { links, from, up, at, piece: pieces.length, pieceOf, entry }))
  }
  for (const piece of pieces) piece.parent = entry[piece.top] as number
  return { root, entry, pieceOf, pieces }
}

/** Takes the links down to the one `up`–`at` off the stack: they are one piece. */
function takePiece(
  graph: WireGraph,
  given: { links: number[]; from: number[]; up: number; at: number; piece: number; pieceOf: Int32Array; entry: Int32Array },
): { parent: number; top: number; elements: number[]; vertices: number[] } {
  const { links, from, up, at, piece, pieceOf, entry } = given
  const vertices = [up]
  const elements: number[] = []
  for (;;) {
    const link = links.pop() as number
    const [a, b] = [from.pop() as number, graph.to[link] as number]
    const element = graph.element[link] as number
    if (element >= 0) {
      elements.push(element)
      pieceOf[element] = piece
    }
    for (const vertex of [a, b]) {
      if (vertex === up || entry[vertex] === piece) continue
      entry[vertex] = piece
      vertices.push(vertex)
    }
    if (a === up && b === at) return { parent: -1, top: up, elements, vertices }
  }
}

/** Pieces from the root down to a vertex; null where it is not reached. */
export function piecesTo(walk: Walk, vertex: number): readonly number[] | null {
  return walk.entry[vertex] === -2 ? null : piecesDownTo(walk, walk.entry[vertex] as number)
}

/** Pieces from the root down to a piece, itself included. */
export function piecesDownTo(walk: Walk, last: number): readonly number[] {
  const chain: number[] = []
  for (let piece = last; piece >= 0; piece = (walk.pieces[piece] as Piece).parent) chain.push(piece)
  return chain.reverse()
}

/** The elements of a chain of pieces, in that order. */
export function elementsOf(walk: Walk, chain: readonly number[]): readonly number[] {
  const found: number[] = []
  for (const piece of chain) for (const element of (walk.pieces[piece] as Piece).elements) found.push(element)
  return found
}

/** Whether current may pass the element: not a load, a coil or a source. */
export function isWalked(element: Element): boolean {
  return element.kind !== 'load' && element.kind !== 'coil' && element.kind !== 'source'
}
