/** The feed ledger: a spanning tree of the solved current from the source, conductors in the row of what they lead to. */
import type { SolvedCircuit } from './circuit-of.ts'
import { type Element, splitTerminal } from './network.ts'
import type { FeedRow } from './report.ts'

/**
 * Rows in the order the current flows, source first, for the condition numbered `condition` (default: the one with most current).
 * In a mesh the tree takes the strongest current; other feeds stand in `alsoFedThrough`. What no source feeds comes last at depth 0.
 */
export function feedTree(circuit: SolvedCircuit, given: { readonly condition?: number } = {}): readonly FeedRow[] {
  const { network } = circuit
  const at = given.condition ?? strongest(circuit)
  const point = circuit.points[at]
  const solved = circuit.conditions[at]
  if (!point || !solved) return []
  const amperes = (element: number) => Math.abs(Number.isFinite(point.current_A[element]) ? (point.current_A[element] as number) : 0)
  const seen = new Set<string>()
  const rows: FeedRow[] = []
  const children = new Map<string | null, FeedRow[]>()
  type Step = { key: string; enter: number; parent: string | null; through: readonly string[]; amps: number }
  const queue: Step[] = []
  const isConductor = (key: string) => circuit.kindOf(key) === 'conductor'
  const sources = ['battery', 'alternator', 'charger', 'converter'].flatMap((kind) => circuit.componentsOf(kind))
  const visit = (step: Step) => {
    if (seen.has(step.key)) {
      const row = rows.find((one) => one.component === step.key)
      if (
        row &&
        step.parent !== null &&
        step.parent !== row.parent &&
        !row.alsoFedThrough.includes(step.parent) &&
        step.parent !== step.key
      )
        (row.alsoFedThrough as string[]).push(step.parent)
      return
    }
    seen.add(step.key)
    const passes = isConductor(step.key)
    const row: FeedRow = {
      component: step.key,
      through: step.through,
      depth: 0,
      parent: step.parent,
      current_A: solved.current_A(step.key) ?? step.amps,
      atLeast: solved.unknownLoads(step.key).length > 0,
      alsoFedThrough: [],
    }
    if (!passes) {
      rows.push(row)
      children.set(step.parent, [...(children.get(step.parent) ?? []), row])
    }
    const kind = circuit.kindOf(step.key)
    if (kind === 'load' || kind === 'pump' || (kind === 'converter' && step.parent !== null)) return
    for (const exit of exits(step)) {
      for (const join of network.joinsAt.get(exit) ?? []) {
        const element = network.elements[join] as Element
        const other = element.from === exit ? element.to : element.from
        const key = splitTerminal(network.terminals[other] as string).component
        queue.push({
          key,
          enter: other,
          parent: passes ? step.parent : step.key,
          through: passes ? [...step.through, step.key] : [],
          amps: amperes(join),
        })
      }
    }
  }
  const exits = (step: Step): readonly number[] => {
    const kind = circuit.kindOf(step.key)
    const name = (n: number) => splitTerminal(network.terminals[n] as string).name
    if (step.parent === null && sources.includes(step.key))
      return (network.terminalsOf.get(step.key) ?? []).filter((n) => name(n) === '+' || name(n) === 'out')
    if (kind === 'battery' || kind === 'alternator' || kind === 'charger')
      return (network.terminalsOf.get(step.key) ?? []).filter((n) => name(n) === '+' && n !== step.enter)
    // A coil is where its feed ends.
    if (kind === 'relay')
      return name(step.enter) === '86' || name(step.enter) === '85'
        ? []
        : (network.terminalsOf.get(step.key) ?? []).filter((n) => n !== step.enter && name(n) !== '85' && name(n) !== '86')
    return (network.terminalsOf.get(step.key) ?? []).filter((n) => n !== step.enter || network.oneNode.has(step.key))
  }
  for (const source of sources) {
    if (seen.has(source)) continue
    queue.push({ key: source, enter: -1, parent: null, through: [], amps: 0 })
    while (queue.length > 0) {
      let best = 0
      for (let n = 1; n < queue.length; n++) if ((queue[n] as Step).amps > (queue[best] as Step).amps) best = n
      const [step] = queue.splice(best, 1) as [Step]
      // Relays are entered by their contact side where they have one.
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
      current_A: solved.current_A(key),
      atLeast: solved.unknownLoads(key).length > 0,
      alsoFedThrough: [],
    })
  }
  return ordered
}

function strongest(circuit: SolvedCircuit): number {
  let best = 0
  let most = -1
  circuit.points.forEach((point, n) => {
    const sum = point.sources.reduce((total, source) => total + Math.abs(source.gives_A), 0)
    if (point.solved && sum > most) {
      most = sum
      best = n
    }
  })
  return best
}
