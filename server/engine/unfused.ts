/** How far wires run from a battery's post before any fuse or breaker. */
import type { Element, Network } from './network.ts'
import type { WireGraph } from './wire-graph.ts'

export type UnfusedRun = { readonly metres: number; readonly missing: readonly string[] }

/** Conductor → metres from the root terminal to its far end by the shortest way that crosses no fuse or breaker; those not so reached are left out. */
export function unfusedRuns(given: {
  readonly network: Network
  readonly graph: WireGraph
  readonly root: number
}): ReadonlyMap<string, UnfusedRun> {
  const { network, graph, root } = given
  const runs = new Map<string, UnfusedRun>()
  const reached = new Map<number, UnfusedRun>([[root, { metres: 0, missing: [] }]])
  const done = new Set<number>()
  for (;;) {
    const at = nearest(reached, done)
    if (at === null) return runs
    done.add(at)
    const here = reached.get(at) as UnfusedRun
    for (let link = graph.start[at] as number; link < (graph.start[at + 1] as number); link++) {
      const element = network.elements[graph.element[link] as number] ?? null
      const next = further(network, { element, here })
      if (next === null) continue
      if (next !== here) keepLeast(runs, { key: element?.component as string, run: next })
      const other = graph.to[link] as number
      if (!done.has(other)) keepLeast(reached, { key: other, run: next })
    }
  }
}

function keepLeast<K>(runs: Map<K, UnfusedRun>, given: { readonly key: K; readonly run: UnfusedRun }): void {
  const known = runs.get(given.key)
  if (!known || known.metres > given.run.metres) runs.set(given.key, given.run)
}

function nearest(reached: ReadonlyMap<number, UnfusedRun>, done: ReadonlySet<number>): number | null {
  let best: number | null = null
  let least = Number.POSITIVE_INFINITY
  for (const [vertex, run] of reached) {
    if (done.has(vertex) || run.metres >= least) continue
    best = vertex
    least = run.metres
  }
  return best
}

/** The run carried on over one element; null where a device, a draw or a source ends it. */
function further(network: Network, given: { readonly element: Element | null; readonly here: UnfusedRun }): UnfusedRun | null {
  const { element, here } = given
  if (element === null || element.component === null) return here
  const component = network.components.get(element.component)
  const kind = network.parts.get(component?.part ?? '')?.kind
  if (kind === 'fuse' || kind === 'breaker') return null
  if (kind !== 'conductor') return here
  const length_m = component?.length_m
  // Without its length the run is at least this.
  if (length_m === undefined)
    return { metres: here.metres, missing: [...here.missing, `length of ${component?.name ?? element.component}`] }
  return { metres: here.metres + length_m, missing: here.missing }
}
