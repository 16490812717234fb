/** Currents inside merged nodes: through zero-ohm joins, links and the ways of a block. */
import type { Element, Network } from './network.ts'

/**
 * What flows in each zero-ohm element, given what enters the node at each terminal from outside (A).
 * Where such elements close a loop the split is indeterminate: the least sum of squares (equal splitting), marked assumed.
 */
export function localFlows(given: { readonly network: Network; readonly zero: readonly number[]; readonly injections: Float64Array }): {
  readonly flows: ReadonlyMap<number, number>
  readonly assumed: ReadonlySet<number>
} {
  const { network, zero, injections } = given
  const links: { from: number; to: number; element: number }[] = zero.map((at) => ({
    from: (network.elements[at] as Element).from,
    to: (network.elements[at] as Element).to,
    element: at,
  }))
  let hub = network.terminals.length
  for (const terminals of network.oneNode.values()) {
    for (const terminal of terminals) links.push({ from: hub, to: terminal, element: -1 })
    hub++
  }
  const near: number[][] = Array.from({ length: hub }, () => [])
  links.forEach((link, n) => {
    ;(near[link.from] as number[]).push(n)
    ;(near[link.to] as number[]).push(n)
  })
  const flow = new Float64Array(links.length)
  const via = new Int32Array(hub).fill(-1)
  const parent = new Int32Array(hub).fill(-1)
  const seen = new Uint8Array(hub)
  const loose: number[][] = []
  const inTree = new Uint8Array(links.length)
  for (let start = 0; start < hub; start++) {
    if (seen[start] || (near[start] as number[]).length === 0) continue
    const order = [start]
    seen[start] = 1
    const extra: number[] = []
    for (let head = 0; head < order.length; head++) {
      const at = order[head] as number
      for (const n of near[at] as number[]) {
        if (inTree[n]) continue
        const link = links[n] as { from: number; to: number }
        const other = link.from === at ? link.to : link.from
        if (seen[other]) {
          if (!extra.includes(n) && other !== at) extra.push(n)
          continue
        }
        seen[other] = 1
        inTree[n] = 1
        via[other] = n
        parent[other] = at
        order.push(other)
      }
    }
    const sum = new Float64Array(order.length)
    const placeOf = new Map(order.map((vertex, n) => [vertex, n]))
    for (let n = order.length - 1; n > 0; n--) {
      const vertex = order[n] as number
      const total = (sum[n] as number) + (vertex < injections.length ? (injections[vertex] as number) : 0)
      const link = links[via[vertex] as number] as { from: number }
      // What enters the subtree leaves it towards the parent.
      flow[via[vertex] as number] = link.from === vertex ? total : -total
      const up = placeOf.get(parent[vertex] as number) as number
      sum[up] = (sum[up] as number) + total
    }
    if (extra.length > 0) loose.push(extra)
  }
  const assumed = new Set<number>()
  for (const extra of loose) spread({ extra, links, flow, via, parent, assumed })
  const flows = new Map<number, number>()
  links.forEach((link, n) => {
    if (link.element >= 0) flows.set(link.element, flow[n] as number)
  })
  return { flows, assumed }
}

/** Adds the circulating currents that make the sum of squares least: (CᵀC)·z = −Cᵀ·f0. */
function spread(given: {
  readonly extra: readonly number[]
  readonly links: readonly { readonly from: number; readonly to: number; readonly element: number }[]
  readonly flow: Float64Array
  readonly via: Int32Array
  readonly parent: Int32Array
  readonly assumed: Set<number>
}): void {
  const { extra, links, flow, via, parent, assumed } = given
  const cycles = extra.slice(0, 60).map((n) => {
    const cycle = new Map<number, number>([[n, 1]])
    const link = links[n] as { from: number; to: number }
    const climb = (from: number, sign: number) => {
      for (let at = from; (via[at] as number) >= 0; at = parent[at] as number) {
        const step = via[at] as number
        const along = (links[step] as { from: number }).from === at ? sign : -sign
        const now = (cycle.get(step) ?? 0) + along
        if (now === 0) cycle.delete(step)
        else cycle.set(step, now)
      }
    }
    climb(link.to, 1)
    climb(link.from, -1)
    return cycle
  })
  const size = cycles.length
  const matrix = cycles.map((a) => cycles.map((b) => dot(a, (n) => b.get(n) ?? 0)))
  const right = cycles.map((a) => -dot(a, (n) => flow[n] as number))
  for (let k = 0; k < size; k++) {
    const row = matrix[k] as number[]
    for (let i = k + 1; i < size; i++) {
      const share = ((matrix[i] as number[])[k] as number) / (row[k] as number)
      for (let j = k; j < size; j++) (matrix[i] as number[])[j] = ((matrix[i] as number[])[j] as number) - share * (row[j] as number)
      right[i] = (right[i] as number) - share * (right[k] as number)
    }
  }
  for (let k = size - 1; k >= 0; k--) {
    let z = right[k] as number
    for (let j = k + 1; j < size; j++) z -= ((matrix[k] as number[])[j] as number) * (right[j] as number)
    right[k] = z / ((matrix[k] as number[])[k] as number)
  }
  cycles.forEach((cycle, k) => {
    for (const [n, sign] of cycle) {
      flow[n] = (flow[n] as number) + sign * (right[k] as number)
      assumed.add((links[n] as { from: number }).from)
      assumed.add((links[n] as { to: number }).to)
    }
  })
}

function dot(cycle: ReadonlyMap<number, number>, value: (n: number) => number): number {
  let sum = 0
  for (const [n, sign] of cycle) sum += sign * value(n)
  return sum
}
