/** The two trees of the current picture: the feed's as the check gives it, the return's found here, strongest current first. */
import type { FeedRow } from '../engine/report.ts'
import type { Link, Linked } from './links.ts'

export type TreeNode = {
  readonly component: string
  /** conductors between this and what stands before it, in the order of the current from the source, or on the return of that to it */
  readonly through: readonly string[]
  readonly parent: string | null
}

const SOURCES = ['battery', 'alternator', 'charger', 'converter']
const LEAVES = ['load', 'pump', 'relay', 'module', 'alternator', 'charger', 'converter', 'battery']

/** The feed's rows without what no source feeds: that is the return's. */
export function feedNodes(rows: readonly FeedRow[], linked: Linked): readonly TreeNode[] {
  const hasChild = new Set(rows.map((row) => row.parent))
  const isFed = (row: FeedRow) =>
    row.parent !== null || hasChild.has(row.component) || SOURCES.includes(linked.symbols.get(row.component)?.part.kind ?? '')
  return rows
    .filter((row) => linked.symbols.has(row.component) && isFed(row))
    .map(({ component, through, parent }) => ({ component, through, parent }))
}

/** From the sources' return posts back to what returns there. `amperes`: of a conductor; what carries most is followed first. */
export function returnNodes(
  linked: Linked,
  given: { readonly fed: ReadonlySet<string>; readonly amperes: (conductor: string) => number },
): readonly TreeNode[] {
  const { amperes } = given
  const kindOf = (key: string) => linked.symbols.get(key)?.part.kind ?? 'point'
  const linksAt = new Map<string, Link[]>()
  for (const link of linked.links)
    for (const end of [link.from, link.to]) linksAt.set(end.component, [...(linksAt.get(end.component) ?? []), link])
  const nodes = new Map<string, TreeNode>()
  const sources = [...linked.symbols.keys()].filter((key) => kindOf(key) === 'battery')
  type Step = {
    readonly link: Link
    readonly at: string
    readonly parent: string
    readonly through: readonly string[]
    readonly amps: number
  }
  const queue: Step[] = []
  const follow = (
    at: string,
    given: { readonly parent: string; readonly through: readonly string[]; readonly only?: string; readonly not?: Link },
  ) => {
    for (const link of linksAt.get(at) ?? []) {
      if (link === given.not) continue
      const [here, there] = link.from.component === at ? [link.from, link.to] : [link.to, link.from]
      if (given.only !== undefined && here.terminal !== given.only) continue
      const through = [...(link.conductor === null ? [] : [link.conductor]), ...given.through]
      queue.push({
        link,
        at: there.component,
        parent: given.parent,
        through,
        amps: link.conductor === null ? Number.POSITIVE_INFINITY : amperes(link.conductor),
      })
    }
  }
  for (const source of sources) {
    if (nodes.has(source)) continue
    nodes.set(source, { component: source, through: [], parent: null })
    follow(source, { parent: source, through: [], only: '-' })
    while (queue.length > 0) {
      const best = queue.reduce((first, step, n) => (step.amps > (queue[first] as Step).amps ? n : first), 0)
      const [step] = queue.splice(best, 1) as [Step]
      const key = step.at
      const entered = step.link.from.component === key ? step.link.from.terminal : step.link.to.terminal
      if (nodes.has(key)) continue
      if (linked.points.has(key)) {
        follow(key, { parent: step.parent, through: step.through, not: step.link })
        continue
      }
      const kind = kindOf(key)
      if (LEAVES.includes(kind) ? !['-', '85', '86'].includes(entered) : given.fed.has(key)) continue
      nodes.set(key, { component: key, through: step.through, parent: step.parent })
      if (!LEAVES.includes(kind)) follow(key, { parent: key, through: [], not: step.link })
    }
  }
  return [...nodes.values()]
}
