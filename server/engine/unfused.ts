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
  const reached: (UnfusedRun | undefined)[] = new Array(graph.size)
  reached[root] = { metres: 0, missing: [] }
  // A vertex reached again by a shorter way is gone on from again.
  const waiting = [root]
  for (let n = 0; n < waiting.length; n++) {
    const at = waiting[n] as number
    const here = reached[at] as UnfusedRun
    for (let link = graph.start[at] as number; link < (graph.start[at + 1] as number); link++) {
      const element = network.elements[graph.element[link] as number] ?? null
      const next = further(network, { element, here })
      if (next === null) continue
      const conductor = element?.component as string
      if (next !== here && isLess(next, runs.get(conductor))) runs.set(conductor, next)
      const other = graph.to[link] as number
      if (!isLess(next, reached[other])) continue
      reached[other] = next
      waiting.push(other)
    }
  }
  return runs
}

function isLess(run: UnfusedRun, known: UnfusedRun | undefined): boolean {
  // Of two alike the one that is known counts.
  return known === undefined || run.metres < known.metres || (run.metres === known.metres && run.missing.length < known.missing.length)
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
