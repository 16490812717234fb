/** Biconnected pieces of the wire graph: what lies on a simple path from a source. Hopcroft and Tarjan, 1973. */
import type { Network } from './network.ts'

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

type Edge = { readonly to: number; readonly element: number; readonly id: number }
export type WireGraph = { readonly size: number; readonly edges: readonly (readonly Edge[])[] }

/** Vertices are terminals, and one hub more per one-node component. */
export function wireGraph(network: Network): WireGraph {
  const edges: Edge[][] = network.terminals.map(() => [])
  let id = 0
  const link = (a: number, b: number, element: number) => {
    ;(edges[a] as Edge[]).push({ to: b, element, id })
    ;(edges[b] as Edge[]).push({ to: a, element, id })
    id++
  }
  network.elements.forEach((element, at) => {
    if (element.kind === 'load' || element.kind === 'coil' || element.kind === 'source') return
    link(element.from, element.to, at)
  })
  for (const terminals of network.oneNode.values()) {
    const hub = edges.length
    edges.push([])
    for (const terminal of terminals) link(hub, terminal, -1)
  }
  return { size: edges.length, edges }
}

/** The pieces reached from `root`, each knowing the one nearer the root. */
export function walkFrom(graph: WireGraph, root: number, elementCount: number): Walk {
  const depth = new Int32Array(graph.size).fill(-1)
  const low = new Int32Array(graph.size)
  const next = new Int32Array(graph.size)
  const via = new Int32Array(graph.size).fill(-1)
  const parent = new Int32Array(graph.size).fill(-1)
  const entry = new Int32Array(graph.size).fill(-2)
  const pieceOf = new Int32Array(elementCount).fill(-1)
  const raw: { top: number; elements: number[]; vertices: number[] }[] = []
  const edgeStack: { from: number; to: number; element: number }[] = []
  const path = [root]
  depth[root] = 0
  entry[root] = -1
  while (path.length > 0) {
    const at = path[path.length - 1] as number
    const edge = (graph.edges[at] as readonly Edge[])[next[at] as number]
    if (edge) {
      next[at] = (next[at] as number) + 1
      if (edge.id === via[at]) continue
      const known = depth[edge.to] as number
      if (known < 0) {
        depth[edge.to] = (depth[at] as number) + 1
        low[edge.to] = depth[edge.to] as number
        via[edge.to] = edge.id
        parent[edge.to] = at
        edgeStack.push({ from: at, to: edge.to, element: edge.element })
        path.push(edge.to)
      } else if (known < (depth[at] as number)) {
        edgeStack.push({ from: at, to: edge.to, element: edge.element })
        low[at] = Math.min(low[at] as number, known)
      }
      continue
    }
    path.pop()
    const up = parent[at] as number
    if (up < 0) continue
    low[up] = Math.min(low[up] as number, low[at] as number)
    if ((low[at] as number) < (depth[up] as number)) continue
    const vertices = new Set<number>([up])
    const elements: number[] = []
    for (;;) {
      const last = edgeStack.pop() as { from: number; to: number; element: number }
      if (last.element >= 0) {
        elements.push(last.element)
        pieceOf[last.element] = raw.length
      }
      vertices.add(last.from)
      vertices.add(last.to)
      if (last.from === up && last.to === at) break
    }
    for (const vertex of vertices) if (vertex !== up) entry[vertex] = raw.length
    raw.push({ top: up, elements, vertices: [...vertices] })
  }
  return { root, entry, pieceOf, pieces: raw.map((piece) => ({ ...piece, parent: entry[piece.top] as number })) }
}

/** Pieces from the root down to a vertex; null where it is not reached. */
export function piecesTo(walk: Walk, vertex: number): readonly number[] | null {
  if (walk.entry[vertex] === -2) return null
  const chain: number[] = []
  for (let piece = walk.entry[vertex] as number; piece >= 0; piece = (walk.pieces[piece] as Piece).parent) chain.push(piece)
  return chain.reverse()
}
