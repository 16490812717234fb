/** The feed ledger: a spanning tree of the solved current from the source, conductors in the row of what they lead to. */
import { carried_A } from './carried.ts'
import type { SolvedCircuit } from './circuit-of.ts'
import { type Element, splitTerminal } from './network.ts'
import type { FeedRow } from './report.ts'

/**
 * Rows in the order the current flows, source first, in the condition numbered `condition`.
 * In a mesh the tree takes the strongest current; other feeds stand in `alsoFedThrough`. What no source feeds comes last at depth 0.
 */
export function feedTree(circuit: SolvedCircuit, condition: number): readonly FeedRow[] {
  const { network } = circuit
  const point = circuit.points[condition]
  const solved = circuit.conditions[condition]
  if (!point || !solved) return []
  const amperes = (element: number) => Math.abs(Number.isFinite(point.current_A[element]) ? (point.current_A[element] as number) : 0)
  const seen = new Set<string>()
  const rowOf = new Map<string, FeedRow>()
  const children = new Map<string | null, FeedRow[]>()
  const queue: Step[] = []
  /** joins followed, by direction */
  const followed = new Set<number>()
  const isConductor = (key: string) => circuit.kindOf(key) === 'conductor'
  const sources = ['battery', 'alternator', 'charger', 'converter'].flatMap((kind) => circuit.componentsOf(kind))
  const visit = (step: Step) => {
    const passes = isConductor(step.key)
    // What else hangs on the same terminal is fed as this is, not by it; what hangs on a shared node or a battery's post is fed by that.
    const isShared = network.oneNode.has(step.key) || sources.includes(step.key)
    if (!isShared) follow(step, { from: step.enter, parent: step.parent, through: step.through })
    if (seen.has(step.key)) {
      const row = rowOf.get(step.key)
      const other = isCoil(step.key, step.enter) ? null : step.parent
      if (row && other !== null && other !== row.parent && other !== step.key && !row.alsoFedThrough.includes(other))
        (row.alsoFedThrough as string[]).push(other)
      return
    }
    seen.add(step.key)
    if (!passes) {
      const row: FeedRow = {
        component: step.key,
        through: step.through,
        depth: 0,
        parent: step.parent,
        current_A: carried_A(solved, { circuit, component: step.key }) ?? step.amps,
        atLeast: solved.unknownLoads(step.key).length > 0,
        alsoFedThrough: [],
      }
      rowOf.set(step.key, row)
      children.set(step.parent, [...(children.get(step.parent) ?? []), row])
    }
    const next = passes ? { parent: step.parent, through: [...step.through, step.key] } : { parent: step.key, through: [] }
    for (const from of exits(step)) follow(step, { from, ...next })
  }
  const follow = (step: Step, given: { from: number; parent: string | null; through: readonly string[] }) => {
    const { from, parent, through } = given
    for (const join of network.joinsAt.get(from) ?? []) {
      const element = network.elements[join] as Element
      const way = element.from === from ? join : -1 - join
      if (join === step.join || followed.has(way)) continue
      followed.add(way)
      const enter = element.from === from ? element.to : element.from
      const key = splitTerminal(network.terminals[enter] as string).component
      queue.push({ key, enter, join, parent, through, amps: amperes(join) })
    }
  }
  const isCoil = (key: string, n: number) => {
    const { name } = splitTerminal(network.terminals[n] ?? ':')
    return circuit.kindOf(key) === 'relay' && (name === '85' || name === '86')
  }
  /** The terminals at which what it feeds is joined. */
  const exits = (step: Step): readonly number[] => {
    const kind = circuit.kindOf(step.key)
    const name = (n: number) => splitTerminal(network.terminals[n] as string).name
    const all = network.terminalsOf.get(step.key) ?? []
    if (network.oneNode.has(step.key)) return all
    if (kind === 'load' || kind === 'pump' || (kind === 'converter' && step.parent !== null)) return []
    if (sources.includes(step.key)) return all.filter((n) => name(n) === '+' || name(n) === 'out')
    // A coil is where its feed ends.
    return isCoil(step.key, step.enter) ? [] : all.filter((n) => n !== step.enter && !isCoil(step.key, n))
  }
  for (const source of sources) {
    if (seen.has(source)) continue
    queue.push({ key: source, enter: -1, join: -1, parent: null, through: [], amps: 0 })
    while (queue.length > 0) {
      let best = 0
      for (let n = 1; n < queue.length; n++) if ((queue[n] as Step).amps > (queue[best] as Step).amps) best = n
      const [step] = queue.splice(best, 1) as [Step]
      visit(step)
    }
  }
  const ordered: FeedRow[] = []
  const descend = (parent: string | null, depth: number) => {
    for (const row of (children.get(parent) ?? []).sort(
      (a, b) => (b.current_A ?? 0) - (a.current_A ?? 0) || (a.component < b.component ? -1 : 1),
    )) {
      ordered.push({ ...row, depth })
      descend(row.component, depth + 1)
    }
  }
  descend(null, 0)
  for (const key of network.components.keys()) {
    if (seen.has(key)) continue
    ordered.push({
      component: key,
      through: [],
      depth: 0,
      parent: null,
      current_A: carried_A(solved, { circuit, component: key }),
      atLeast: solved.unknownLoads(key).length > 0,
      alsoFedThrough: [],
    })
  }
  return ordered
}

/** A component come to by a join: at which terminal, fed by which row, past which conductors. */
type Step = {
  readonly key: string
  readonly enter: number
  readonly join: number
  readonly parent: string | null
  readonly through: readonly string[]
  readonly amps: number
}
