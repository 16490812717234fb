/** Biconnected pieces of the wire graph: what lies on a simple path from a source. Hopcroft and Tarjan, 1973. Long because it is one walk. */
import type { Element, Network } from './network.ts'

/** A walk from one root over all wires (joins, series elements, contacts, shared nodes), everything closed. Pieces are numbered. */
export type Walk = {
  readonly root: number
  /** for each vertex: the piece through which it was reached; −1 at the root, −2 where not reached */
  readonly entry: Int32Array
  /** element → piece, or −1 */
  readonly pieceOf: Int32Array
  /** piece → the piece nearer the root, or −1 */
  readonly parent: readonly number[]
  /** piece → the vertex shared with the side nearer the root */
  readonly top: readonly number[]
  /** the elements of all pieces one after another (shared-node links are not elements), and where each piece's end */
  readonly elements: readonly number[]
  readonly elementsEnd: readonly number[]
  /** the vertices of all pieces one after another, each piece's top first, and where each piece's end */
  readonly vertices: readonly number[]
  readonly verticesEnd: readonly number[]
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
    for (let side = 0; side < 2; side++) {
      const here = ends[2 * n + side] as number
      const link = next[here] as number
      next[here] = link + 1
      to[link] = ends[2 * n + 1 - side] as number
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
  const up = new Int32Array(size).fill(-1)
  const taken: Taken = {
    entry: new Int32Array(size).fill(-2),
    pieceOf: new Int32Array(elementCount).fill(-1),
    top: [],
    elements: [],
    elementsEnd: [],
    vertices: [],
    verticesEnd: [],
    links: [],
    from: [],
  }
  const path = [root]
  depth[root] = 0
  taken.entry[root] = -1
  while (path.length > 0) {
    const at = path[path.length - 1] as number
    const link = next[at] as number
    if (link < (start[at + 1] as number)) {
      next[at] = link + 1
      if (graph.edge[link] === via[at]) continue
      const other = to[link] as number
      const known = depth[other] as number
      if (known >= 0 && known >= (depth[at] as number)) continue
      taken.links.push(link)
      taken.from.push(at)
      if (known >= 0) {
        low[at] = Math.min(low[at] as number, known)
        continue
      }
      depth[other] = (depth[at] as number) + 1
      low[other] = depth[other] as number
      via[other] = graph.edge[link] as number
      up[other] = at
      path.push(other)
      continue
    }
    path.pop()
    const above = up[at] as number
    if (above < 0) continue
    low[above] = Math.min(low[above] as number, low[at] as number)
    if ((low[at] as number) >= (depth[above] as number)) takePiece(graph, taken, { top: above, at })
  }
  const parent = taken.top.map((vertex) => taken.entry[vertex] as number)
  return { ...taken, root, parent }
}

type Taken = {
  readonly entry: Int32Array
  readonly pieceOf: Int32Array
  readonly top: number[]
  readonly elements: number[]
  readonly elementsEnd: number[]
  readonly vertices: number[]
  readonly verticesEnd: number[]
  /** links not yet in a piece, with the vertex each was followed from */
  readonly links: number[]
  readonly from: number[]
}

/** Takes the links down to the one `top`–`at` off the stack: they are one piece. */
function takePiece(graph: WireGraph, taken: Taken, given: { readonly top: number; readonly at: number }): void {
  const { top, at } = given
  const { pieceOf, links, from, elements, vertices } = taken
  const piece = taken.top.length
  vertices.push(top)
  for (;;) {
    const link = links.pop() as number
    const a = from.pop() as number
    const b = graph.to[link] as number
    const element = graph.element[link] as number
    if (element >= 0) {
      elements.push(element)
      pieceOf[element] = piece
    }
    if (a !== top) meet(taken, a)
    if (b !== top) meet(taken, b)
    if (a === top && b === at) break
  }
  taken.top.push(top)
  taken.elementsEnd.push(elements.length)
  taken.verticesEnd.push(vertices.length)
}

/** The vertex belongs to the piece now being taken. */
function meet(taken: Taken, vertex: number): void {
  const piece = taken.top.length
  if (taken.entry[vertex] === piece) return
  taken.entry[vertex] = piece
  taken.vertices.push(vertex)
}

/** Pieces from the root down to a vertex; null where it is not reached. */
export function piecesTo(walk: Walk, vertex: number): readonly number[] | null {
  return walk.entry[vertex] === -2 ? null : piecesDownTo(walk, walk.entry[vertex] as number)
}

/** Pieces from the root down to a piece, itself included. */
export function piecesDownTo(walk: Walk, last: number): readonly number[] {
  const chain: number[] = []
  for (let piece = last; piece >= 0; piece = walk.parent[piece] as number) chain.push(piece)
  return chain.reverse()
}

/** The elements of a chain of pieces, in that order. */
export function elementsOf(walk: Walk, chain: readonly number[]): readonly number[] {
  const found: number[] = []
  for (const piece of chain)
    for (let n = elementsStart(walk, piece); n < (walk.elementsEnd[piece] as number); n++) found.push(walk.elements[n] as number)
  return found
}

export function verticesIn(walk: Walk, piece: number): readonly number[] {
  return walk.vertices.slice(verticesStart(walk, piece), walk.verticesEnd[piece])
}

/** Whether the piece is one link that no other way goes round. */
export function isBridge(walk: Walk, piece: number): boolean {
  return (
    (walk.elementsEnd[piece] as number) - elementsStart(walk, piece) <= 1 &&
    (walk.verticesEnd[piece] as number) - verticesStart(walk, piece) <= 2
  )
}

function elementsStart(walk: Walk, piece: number): number {
  return piece === 0 ? 0 : (walk.elementsEnd[piece - 1] as number)
}

function verticesStart(walk: Walk, piece: number): number {
  return piece === 0 ? 0 : (walk.verticesEnd[piece - 1] as number)
}

/** Whether current may pass the element: not a load, a coil or a source. */
function isWalked(element: Element): boolean {
  return element.kind !== 'load' && element.kind !== 'coil' && element.kind !== 'source'
}
