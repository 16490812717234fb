/** How good a layout is, measured from its geometry alone. */
import type { Box, PlacedPiece, PlacedWire, Point } from './layout.ts'

export type Measures = {
  readonly wires: number
  readonly bends: number
  /** pairs of wires of different terminals that cross */
  readonly crossings: number
  /** faults, each named: a wire through a symbol's box, a label touched by another wire, a box on a box, two wires on one line */
  readonly faults: readonly string[]
}

type Segment = { readonly from: Point; readonly to: Point }

export function measuresOf(piece: PlacedPiece): Measures {
  const boxes = piece.nodes.map((node) => ({ id: node.id, box: { ...node.at, width: node.width, height: node.height } }))
  const labels = piece.wires.flatMap((wire) => (wire.label ? [{ id: wire.id, box: wire.label }] : []))
  const faults: string[] = []
  let crossings = 0
  for (const wire of piece.wires)
    for (const segment of segmentsOf(wire)) {
      if (segment.from.x !== segment.to.x && segment.from.y !== segment.to.y) faults.push(`${wire.id} is not drawn at right angles`)
      for (const { id, box } of boxes) if (passes(segment, box)) faults.push(`${wire.id} runs through ${id}`)
      for (const { id, box } of labels) if (id !== wire.id && passes(segment, box)) faults.push(`${wire.id} crosses the label of ${id}`)
    }
  for (const [n, one] of labels.entries()) {
    for (const { id, box } of boxes) if (overlap(one.box, box)) faults.push(`the label of ${one.id} lies on ${id}`)
    for (const other of labels.slice(n + 1))
      if (overlap(one.box, other.box)) faults.push(`the labels of ${one.id} and ${other.id} lie on each other`)
  }
  for (const [n, one] of boxes.entries())
    for (const other of boxes.slice(n + 1)) if (overlap(one.box, other.box)) faults.push(`${one.id} lies on ${other.id}`)
  for (const [n, one] of piece.wires.entries())
    for (const other of piece.wires.slice(n + 1)) {
      // Wires of one terminal share its lead and part at a dot: they are one net there.
      if (meet(one, other)) continue
      for (const a of segmentsOf(one))
        for (const b of segmentsOf(other)) {
          if (cross(a, b)) crossings++
          if (cover(a, b)) faults.push(`${one.id} and ${other.id} lie on one line`)
        }
    }
  return {
    wires: piece.wires.length,
    bends: piece.wires.reduce((sum, wire) => sum + Math.max(0, wire.path.length - 2), 0),
    crossings,
    faults,
  }
}

function segmentsOf(wire: PlacedWire): readonly Segment[] {
  return wire.path.slice(1).map((to, n) => ({ from: wire.path[n] as Point, to }))
}

function meet(one: PlacedWire, other: PlacedWire): boolean {
  const ends = (wire: PlacedWire) => [wire.from, wire.to].map((end) => `${end.node} ${end.port}`)
  return ends(one).some((end) => ends(other).includes(end))
}

/** Whether a segment passes the inside of a box; along its edge, or ending on it, it does not. */
function passes(segment: Segment, box: Box): boolean {
  const { left, right, top, bottom } = spanOf(segment)
  return right > box.x + SLACK && left < box.x + box.width - SLACK && bottom > box.y + SLACK && top < box.y + box.height - SLACK
}

function overlap(one: Box, other: Box): boolean {
  return (
    one.x + SLACK < other.x + other.width &&
    other.x + SLACK < one.x + one.width &&
    one.y + SLACK < other.y + other.height &&
    other.y + SLACK < one.y + one.height
  )
}

/** A tenth of a unit, to which places are rounded. */
const SLACK = 0.11

function cross(a: Segment, b: Segment): boolean {
  const [across, down] = a.from.y === a.to.y ? [a, b] : [b, a]
  if (across.from.y !== across.to.y || down.from.x !== down.to.x) return false
  const [h, v] = [spanOf(across), spanOf(down)]
  return h.left < v.left && v.left < h.right && v.top < h.top && h.top < v.bottom
}

/** Two segments on one line that have more than a point in common. */
function cover(a: Segment, b: Segment): boolean {
  const [one, other] = [spanOf(a), spanOf(b)]
  const isAcross = one.top === one.bottom && other.top === other.bottom && one.top === other.top
  const isDown = one.left === one.right && other.left === other.right && one.left === other.left
  return (isAcross && one.left < other.right && other.left < one.right) || (isDown && one.top < other.bottom && other.top < one.bottom)
}

function spanOf({ from, to }: Segment) {
  return { left: Math.min(from.x, to.x), right: Math.max(from.x, to.x), top: Math.min(from.y, to.y), bottom: Math.max(from.y, to.y) }
}
