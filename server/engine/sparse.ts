/** Sparse symmetric LDLᵀ with minimum-degree ordering. Knows no electricity. */

/** The order of elimination and the fill of a symmetric pattern; one of these serves many numeric factorizations. */
export class Pattern {
  readonly size: number
  readonly order: Int32Array
  /** rows of column k (in original numbering) below the pivot, after fill */
  readonly rows: readonly Int32Array[]
  readonly start: Int32Array
  /** for each column, the value positions that pair (i, j) of its rows updates, row-major over pairs i ≤ j */
  readonly targets: readonly Int32Array[]
  readonly position: (i: number, j: number) => number
  /** place of each node in the order */
  readonly rank: Int32Array
  /** the place whose column a place's column leads to (elimination tree); −1 at a root */
  readonly parent: Int32Array
  /** how many places lie between a place and its root */
  readonly depth: Int32Array

  constructor(size: number, pairs: readonly (readonly [number, number])[]) {
    this.size = size
    const { order, rows } = eliminate(size, pairs)
    this.order = order
    this.rows = rows
    const rank = new Int32Array(size)
    order.forEach((node, at) => {
      rank[node] = at
    })
    this.rank = rank
    this.parent = new Int32Array(size).fill(size)
    for (let at = 0; at < size; at++)
      for (const row of rows[at] as Int32Array) this.parent[at] = Math.min(this.parent[at] as number, rank[row] as number)
    this.depth = new Int32Array(size)
    for (let at = size - 1; at >= 0; at--) {
      if (this.parent[at] === size) this.parent[at] = -1
      else this.depth[at] = (this.depth[this.parent[at] as number] as number) + 1
    }
    this.start = new Int32Array(size + 1)
    for (let at = 0; at < size; at++) this.start[at + 1] = (this.start[at] as number) + (rows[at] as Int32Array).length
    // Diagonals are stored after the off-diagonals, by node.
    const offCount = this.start[size] as number
    this.position = (i, j) => {
      if (i === j) return offCount + i
      // A column names those eliminated after it: few, since the fullest come last.
      const isFirst = (rank[i] as number) < (rank[j] as number)
      const at = rank[isFirst ? i : j] as number
      return (this.start[at] as number) + (rows[at] as Int32Array).indexOf(isFirst ? j : i)
    }
    this.targets = rows.map((column) => {
      const targets = new Int32Array((column.length * (column.length + 1)) / 2)
      let n = 0
      for (let a = 0; a < column.length; a++)
        for (let b = a; b < column.length; b++) targets[n++] = this.position(column[a] as number, column[b] as number)
      return targets
    })
  }

  /** Empty values for this pattern: off-diagonals by column, then diagonals by node. */
  values(): Float64Array {
    return new Float64Array((this.start[this.size] as number) + this.size)
  }
}

/** Factors `values` in place (L below, D on the diagonal). False where a pivot vanishes. */
export function factor(pattern: Pattern, values: Float64Array): boolean {
  const offCount = pattern.start[pattern.size] as number
  for (let at = 0; at < pattern.size; at++) {
    const pivot = values[offCount + (pattern.order[at] as number)] as number
    if (!(Math.abs(pivot) > 1e-14) || !Number.isFinite(pivot)) return false
    const rows = pattern.rows[at] as Int32Array
    const start = pattern.start[at] as number
    const targets = pattern.targets[at] as Int32Array
    let n = 0
    for (let a = 0; a < rows.length; a++) {
      const l = (values[start + a] as number) / pivot
      for (let b = a; b < rows.length; b++) {
        const target = targets[n++] as number
        values[target] = (values[target] as number) - l * (values[start + b] as number)
      }
    }
    for (let a = 0; a < rows.length; a++) values[start + a] = (values[start + a] as number) / pivot
  }
  return true
}

/** Solves with the factored values; `right` is overwritten by the solution. */
export function solveFactored(pattern: Pattern, values: Float64Array, right: Float64Array): Float64Array {
  const { size, order, rows, start } = pattern
  const offCount = start[size] as number
  for (let at = 0; at < size; at++) {
    const x = right[order[at] as number] as number
    if (x === 0) continue
    const column = rows[at] as Int32Array
    for (let n = 0; n < column.length; n++) {
      const row = column[n] as number
      right[row] = (right[row] as number) - (values[(start[at] as number) + n] as number) * x
    }
  }
  for (let at = size - 1; at >= 0; at--) {
    const node = order[at] as number
    let x = (right[node] as number) / (values[offCount + node] as number)
    const column = rows[at] as Int32Array
    for (let n = 0; n < column.length; n++) x -= (values[(start[at] as number) + n] as number) * (right[column[n] as number] as number)
    right[node] = x
  }
  return right
}

/** L⁻¹e for the unit vector of a node: values at the places on its way to the root of the elimination tree, its own first. */
export type HalfSolution = readonly number[]

/** `scratch` has a place for each node, all zero before and after. */
export function halfSolve(pattern: Pattern, factored: Float64Array, node: number, scratch: Float64Array): HalfSolution {
  const { rank, parent, order, rows, start } = pattern
  const values: number[] = []
  scratch[node] = 1
  for (let at = rank[node] as number; at >= 0; at = parent[at] as number) {
    const x = scratch[order[at] as number] as number
    scratch[order[at] as number] = 0
    values.push(x)
    if (x === 0) continue
    // The rows of a column all lie further on the same way.
    const column = rows[at] as Int32Array
    for (let k = 0; k < column.length; k++) {
      const row = column[k] as number
      scratch[row] = (scratch[row] as number) - (factored[(start[at] as number) + k] as number) * x
    }
  }
  return values
}

/** eᵢᵀ·A⁻¹·eⱼ = Σ yᵢ·yⱼ/d over the places that both pass, y = L⁻¹e; two ways to the root meet and then stay together. */
export function halfDot(
  pattern: Pattern,
  factored: Float64Array,
  one: { readonly node: number; readonly half: HalfSolution },
  other: { readonly node: number; readonly half: HalfSolution },
): number {
  const { rank, parent, depth, order, start, size } = pattern
  let [i, j] = [rank[one.node] as number, rank[other.node] as number]
  const [top, bottom] = [depth[i] as number, depth[j] as number]
  while (i !== j) {
    if (i < 0 || j < 0) return 0
    if ((depth[i] as number) >= (depth[j] as number)) i = parent[i] as number
    else j = parent[j] as number
  }
  const offCount = start[size] as number
  let sum = 0
  for (let at = i; at >= 0; at = parent[at] as number) {
    const level = depth[at] as number
    sum +=
      ((one.half[top - level] as number) * (other.half[bottom - level] as number)) / (factored[offCount + (order[at] as number)] as number)
  }
  return sum
}

/** Symbolic elimination, least degree first; ties by lowest number, so the order is the same every time. */
function eliminate(size: number, pairs: readonly (readonly [number, number])[]): { order: Int32Array; rows: Int32Array[] } {
  // Lists, not sets: nearly all have two or three, and the few full ones are eliminated last.
  const near: number[][] = []
  for (let node = 0; node < size; node++) near.push([])
  for (const [i, j] of pairs) {
    if (i === j || (near[i] as number[]).includes(j)) continue
    ;(near[i] as number[]).push(j)
    ;(near[j] as number[]).push(i)
  }
  const buckets: number[][] = []
  const put = (node: number) => {
    const degree = (near[node] as number[]).length
    for (let d = buckets.length; d <= degree; d++) buckets.push([])
    ;(buckets[degree] as number[]).push(node)
  }
  for (let node = size - 1; node >= 0; node--) put(node)
  const done = new Uint8Array(size)
  const order = new Int32Array(size)
  const rows: Int32Array[] = []
  let lowest = 0
  for (let at = 0; at < size; ) {
    while (lowest < buckets.length && (buckets[lowest] as number[]).length === 0) lowest++
    const node = (buckets[lowest] as number[]).pop() as number
    if (done[node] || (near[node] as number[]).length !== lowest) continue
    done[node] = 1
    const around = near[node] as number[]
    for (const i of around) {
      const list = near[i] as number[]
      list.splice(list.indexOf(node), 1)
      for (const j of around) if (j !== i && !list.includes(j)) list.push(j)
    }
    for (const i of around) {
      put(i)
      lowest = Math.min(lowest, (near[i] as number[]).length)
    }
    order[at++] = node
    rows.push(new Int32Array(around))
  }
  return { order, rows }
}
