/** What the layout library is asked, and what its answer means: pieces as graphs, placed graphs as geometry. */
import type { ElkExtendedEdge, ElkNode } from 'elkjs'
import { FIGURE, type PlanNode, type PlanPiece, type PlanWire } from './plan.ts'

export type Point = { readonly x: number; readonly y: number }
export type Box = Point & { readonly width: number; readonly height: number }
export type PlacedNode = PlanNode & { readonly at: Point }
export type PlacedWire = PlanWire & {
  /** corner by corner, from one end to the other */
  readonly path: readonly Point[]
  /** dots, where it leaves another wire of the same terminal */
  readonly dots: readonly Point[]
  /** its words' box, which the wire itself passes through the middle of; null where it has none */
  readonly label: Box | null
}
export type PlacedPiece = Omit<PlanPiece, 'nodes' | 'wires'> & {
  readonly nodes: readonly PlacedNode[]
  readonly wires: readonly PlacedWire[]
  readonly width: number
  readonly height: number
}

const OPTIONS = {
  'elk.algorithm': 'layered',
  'elk.direction': 'RIGHT',
  'elk.edgeRouting': 'ORTHOGONAL',
  // Of the three strategies this one bends wires least and takes least time.
  'elk.layered.nodePlacement.strategy': 'BRANDES_KOEPF',
  'elk.layered.nodePlacement.bk.edgeStraightening': 'IMPROVE_STRAIGHTNESS',
  'elk.layered.spacing.nodeNodeBetweenLayers': '16',
  'elk.layered.spacing.edgeNodeBetweenLayers': '10',
  'elk.layered.spacing.edgeEdgeBetweenLayers': '8',
  'elk.spacing.nodeNode': '10',
  'elk.spacing.edgeNode': '8',
  'elk.spacing.edgeEdge': '8',
  'elk.spacing.edgeLabel': '2',
  'elk.layered.thoroughness': '12',
  'elk.padding': '[top=2,left=2,bottom=2,right=2]',
}

/** A piece as the library's graph. The same piece makes the same graph, byte by byte. */
export function graphOf(piece: PlanPiece): ElkNode {
  return {
    id: 'piece',
    layoutOptions: OPTIONS,
    children: piece.nodes.map((node) => ({
      id: node.id,
      width: node.width,
      height: node.height,
      layoutOptions: { 'elk.portConstraints': 'FIXED_POS' },
      ports: node.shape.ports.map((port) => ({
        id: `${node.id} ${port.name}`,
        x: port.side === 'left' ? 0 : node.width,
        y: node.y + port.y,
        width: 0,
        height: 0,
        layoutOptions: { 'elk.port.side': port.side === 'left' ? 'WEST' : 'EAST' },
      })),
    })),
    edges: piece.wires.map((wire) => {
      const label = labelSize(wire)
      return {
        id: wire.id,
        sources: [`${wire.from.node} ${wire.from.port}`],
        targets: [`${wire.to.node} ${wire.to.port}`],
        ...(label === null
          ? {}
          : {
              labels: [
                {
                  // A label without words is not placed.
                  text: wire.id,
                  ...label,
                  layoutOptions: { 'elk.edgeLabels.inline': 'true', 'elk.edgeLabels.placement': 'CENTER' },
                },
              ],
            }),
      }
    }),
  }
}

/** Half of the box is above the wire, half below, whatever stands in them. */
export function labelSize(wire: Pick<PlanWire, 'above' | 'below'>): { readonly width: number; readonly height: number } | null {
  const lines = Math.max(wire.above.length, wire.below.length)
  if (lines === 0) return null
  const letters = Math.max(...[...wire.above, ...wire.below].map((line) => line.length))
  return { width: Math.ceil(letters * FIGURE.letter) + 8, height: 2 * (lines * FIGURE.line + 2) }
}

export function placedOf(piece: PlanPiece, graph: ElkNode): PlacedPiece {
  const places = new Map((graph.children ?? []).map((child) => [child.id, { x: child.x ?? 0, y: child.y ?? 0 }]))
  const edges = new Map((graph.edges ?? []).map((edge) => [edge.id, edge]))
  return {
    ...piece,
    width: graph.width ?? 0,
    height: graph.height ?? 0,
    nodes: piece.nodes.map((node) => ({ ...node, at: places.get(node.id) as Point })),
    wires: piece.wires.map((wire) => ({ ...wire, ...routeOf(edges.get(wire.id) as ElkExtendedEdge) })),
  }
}

function routeOf(edge: ElkExtendedEdge): Pick<PlacedWire, 'path' | 'dots' | 'label'> {
  const section = edge.sections?.[0]
  const label = edge.labels?.[0]
  return {
    path: section ? straightened([section.startPoint, ...(section.bendPoints ?? []), section.endPoint]) : [],
    dots: (edge.junctionPoints ?? []).map(({ x, y }) => ({ x, y })),
    label: label ? { x: label.x ?? 0, y: label.y ?? 0, width: label.width ?? 0, height: label.height ?? 0 } : null,
  }
}

/** Corners only: a point between two others of one line says nothing. */
function straightened(points: readonly Point[]): readonly Point[] {
  return points
    .map(({ x, y }) => ({ x: round(x), y: round(y) }))
    .filter((point, n, all) => {
      const [before, after] = [all[n - 1], all[n + 1]]
      if (!before || !after) return true
      return !((before.x === point.x && point.x === after.x) || (before.y === point.y && point.y === after.y))
    })
}

function round(value: number): number {
  return Math.round(value * 10) / 10
}
