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
  const links = linksOf(network, zero)
  const { from, to, element, size } = links
  const flow = new Float64Array(from.length)
  const { start, link } = rowsOf(links)
  const via = new Int32Array(size).fill(-1)
  const parent = new Int32Array(size).fill(-1)
  const seen = new Uint8Array(size)
  const taken = new Uint8Array(from.length)
  const sum = new Float64Array(size)
  const loose: number[][] = []
  const order: number[] = []
  for (let root = 0; root < size; root++) {
    if (seen[root] || start[root] === start[root + 1]) continue
    order.length = 0
    order.push(root)
    seen[root] = 1
    const extra: number[] = []
    for (let head = 0; head < order.length; head++) {
      const at = order[head] as number
      for (let n = start[at] as number; n < (start[at + 1] as number); n++) {
        const one = link[n] as number
        if (taken[one]) continue
        const other = from[one] === at ? (to[one] as number) : (from[one] as number)
        taken[one] = 1
        if (seen[other]) {
          if (other !== at) extra.push(one)
          continue
        }
        seen[other] = 1
        via[other] = one
        parent[other] = at
        order.push(other)
      }
    }
    for (let n = order.length - 1; n > 0; n--) {
      const vertex = order[n] as number
      const total = (sum[vertex] as number) + (vertex < injections.length ? (injections[vertex] as number) : 0)
      const one = via[vertex] as number
      // What enters the subtree leaves it towards the parent.
      flow[one] = from[one] === vertex ? total : -total
      const up = parent[vertex] as number
      sum[up] = (sum[up] as number) + total
    }
    if (extra.length > 0) loose.push(extra)
  }
  const assumed = new Set<number>()
  for (const extra of loose) spread({ extra, links, flow, via, parent, assumed })
  const flows = new Map<number, number>()
  element.forEach((at, n) => {
    if (at >= 0) flows.set(at, flow[n] as number)
  })
  return { flows, assumed }
}

/** Zero-ohm elements, and a link from each shared node's hub to its terminals (`element` −1). */
type Links = { readonly from: readonly number[]; readonly to: readonly number[]; readonly element: readonly number[]; readonly size: number }

function linksOf(network: Network, zero: readonly number[]): Links {
  const from: number[] = []
  const to: number[] = []
  const element: number[] = []
  for (const at of zero) {
    from.push((network.elements[at] as Element).from)
    to.push((network.elements[at] as Element).to)
    element.push(at)
  }
  let size = network.terminals.length
  for (const terminals of network.oneNode.values()) {
    for (const terminal of terminals) {
      from.push(size)
      to.push(terminal)
      element.push(-1)
    }
    size++
  }
  return { from, to, element, size }
}

/** The links at each vertex: those of v stand at `start[v]` … `start[v + 1] − 1`. */
function rowsOf({ from, to, size }: Links): { readonly start: Int32Array; readonly link: Int32Array } {
  const start = new Int32Array(size + 1)
  for (const end of from) start[end + 1] = (start[end + 1] as number) + 1
  for (const end of to) start[end + 1] = (start[end + 1] as number) + 1
  for (let n = 0; n < size; n++) start[n + 1] = (start[n + 1] as number) + (start[n] as number)
  const next = start.slice(0, size)
  const link = new Int32Array(2 * from.length)
  for (let n = 0; n < from.length; n++) {
    for (const end of [from[n] as number, to[n] as number]) {
      link[next[end] as number] = n
      next[end] = (next[end] as number) + 1
    }
  }
  return { start, link }
}

/** Adds the circulating currents that make the sum of squares least: (CᵀC)·z = −Cᵀ·f0. */
function spread(given: {
  readonly extra: readonly number[]
  readonly links: Links
  readonly flow: Float64Array
  readonly via: Int32Array
  readonly parent: Int32Array
  readonly assumed: Set<number>
}): void {
  const { extra, links, flow, via, parent, assumed } = given
  const cycles = extra.slice(0, 60).map((n) => {
    const cycle = new Map<number, number>([[n, 1]])
    const climb = (from: number, sign: number) => {
      for (let at = from; (via[at] as number) >= 0; at = parent[at] as number) {
        const step = via[at] as number
        const along = links.from[step] === at ? sign : -sign
        const now = (cycle.get(step) ?? 0) + along
        if (now === 0) cycle.delete(step)
        else cycle.set(step, now)
      }
    }
    climb(links.to[n] as number, 1)
    climb(links.from[n] as number, -1)
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
      assumed.add(links.from[n] as number)
      assumed.add(links.to[n] as number)
    }
  })
}

function dot(cycle: ReadonlyMap<number, number>, value: (n: number) => number): number {
  let sum = 0
  for (const [n, sign] of cycle) sum += sign * value(n)
  return sum
}
