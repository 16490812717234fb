/** Cuts a vehicle's wiring into pieces that can each be read by itself: the supply, the ground points, and each circuit that hangs on the supply. */
import { type End, type Link, type Linked, nameOf } from './links.ts'
import { naturally } from './symbols.ts'

export type Piece = {
  readonly id: string
  readonly sort: 'supply' | 'ground' | 'circuit' | 'loose'
  /** keys of the components, and names of the points, that are drawn here */
  readonly members: readonly string[]
}

export type Groups = {
  readonly pieces: readonly Piece[]
  readonly pieceOf: ReadonlyMap<string, Piece>
  readonly isGround: (key: string) => boolean
  /** a ground that is the vehicle's body itself */
  readonly isBody: (key: string) => boolean
  /** what circuits hang on: it lists them, each names it */
  readonly isRail: (key: string) => boolean
  /** steps from a source's post to a terminal; infinite where no feed reaches it */
  readonly steps: (end: End) => number
  /** whether an end is fed from the other end of its wire, so that it stands on the left */
  readonly isFed: (end: End, from: End) => boolean
}

const SOURCES = ['battery', 'alternator', 'charger', 'converter']
/** A splice with as many wires as this is a place of distribution, not a joint. */
const RAIL_LINKS = 5

/** `most`: how many symbols a piece may have; a bigger one is cut where it hangs together least, in the order of the feed. */
export function groupsOf(linked: Linked, most: (piece: string) => number): Groups {
  const { links, symbols, points } = linked
  const kindOf = (key: string) => symbols.get(key)?.part.kind ?? 'point'
  const linksAt = new Map<string, Link[]>()
  for (const link of links)
    for (const end of [link.from, link.to]) linksAt.set(end.component, [...(linksAt.get(end.component) ?? []), link])
  const isGround = (key: string) => kindOf(key) === 'chassis' || kindOf(key) === 'ground-point'
  const isRail = (key: string) =>
    kindOf(key) === 'block' || SOURCES.includes(kindOf(key)) || (kindOf(key) === 'splice' && (linksAt.get(key)?.length ?? 0) >= RAIL_LINKS)
  const steps = stepsFrom(linked, linksAt)
  const all = [...symbols.keys(), ...points.keys()]
  const other = (link: Link, key: string) => (link.from.component === key ? link.to.component : link.from.component)
  const neighbours = (key: string) => (linksAt.get(key) ?? []).map((link) => other(link, key))
  const together = (keys: readonly string[], isIn: (key: string) => boolean) =>
    connected(keys.filter(isIn), (key) => neighbours(key).filter(isIn))

  const inner = together(all, (key) => !isRail(key) && !isGround(key))
  const railsAt = (group: readonly string[]) => new Set(group.flatMap(neighbours).filter(isRail))
  const draws = (group: readonly string[]) => group.some((key) => kindOf(key) === 'load' || kindOf(key) === 'pump')
  const between = inner.filter((group) => !draws(group) && railsAt(group).size >= 2)
  const backbone = new Set([...all.filter(isRail), ...between.flat()])
  const pieces: Piece[] = []
  const add = (sort: Piece['sort'], name: string, members: readonly string[]) => {
    // The supply level by level, a circuit limb by limb: so what is cut off together hangs together.
    const nearness = (key: string) => stepsOf(key, linksAt, steps) + (kindOf(key) === 'battery' ? 0 : 0.5)
    const ordered = inFeedOrder(members, { neighbours, steps: nearness, isBroad: sort === 'supply' })
    const chunks = chunked(ordered, most(name))
    chunks.forEach((chunk, n) => {
      pieces.push({ id: n === 0 ? name : `${name}+${n}`, sort, members: chunk })
    })
  }
  for (const group of together(all, (key) => backbone.has(key))) add('supply', `supply ${group[0]}`, group)
  for (const key of all.filter(isGround)) add('ground', `ground ${key}`, [key])
  const circuits = inner.filter((group) => !between.includes(group))
  const feedOf = (group: readonly string[]) => firstFeed(group, { linksAt, isRail, kindOf, steps })
  const rank = new Map(circuits.map((group) => [group, feedOf(group)]))
  for (const group of [...circuits].sort((a, b) => naturally(rank.get(a) ?? '', rank.get(b) ?? '')))
    add(group.every((key) => neighbours(key).length === 0) ? 'loose' : 'circuit', `circuit ${group[0]}`, group)
  const order = ['supply', 'ground', 'circuit', 'loose']
  pieces.sort((a, b) => order.indexOf(a.sort) - order.indexOf(b.sort))
  const pieceOf = new Map(pieces.flatMap((piece) => piece.members.map((key) => [key, piece] as const)))
  const isBody = (key: string) => kindOf(key) === 'chassis'
  const isFed = (end: End, from: End) => {
    if (isGround(end.component)) return !isGround(from.component)
    if (!isRail(end.component) || SOURCES.includes(kindOf(end.component))) return steps(from) < steps(end)
    // A bar is fed from where a source is met before any other bar; between two bars, from the one nearer a source.
    const met = railBeyond({ from, not: end.component, linksAt, isRail, isGround, kindOf })
    if (met === null) return steps(from) < steps(end)
    if (SOURCES.includes(kindOf(met))) return true
    const rank = (key: string) => [stepsOf(key, linksAt, steps), key] as const
    const [[own, ownKey], [far, farKey]] = [rank(end.component), rank(met)]
    return far < own || (far === own && farKey < ownKey)
  }
  return { pieces, pieceOf, isGround, isBody, isRail, steps, isFed }
}

/** Breadth first from the sources' live posts, through whatever lets current pass; a ground ends it. */
function stepsFrom(linked: Linked, linksAt: ReadonlyMap<string, readonly Link[]>): (end: End) => number {
  const kindOf = (key: string) => linked.symbols.get(key)?.part.kind ?? 'point'
  const isOneNode = (key: string) => ['block', 'splice', 'ground-point', 'chassis', 'point'].includes(kindOf(key))
  const place = (end: End) => (isOneNode(end.component) ? end.component : nameOf(end))
  const found = new Map<string, number>()
  let queue: { end: End; at: number }[] = [...linked.symbols.keys()]
    .filter((key) => ['battery', 'alternator', 'charger'].includes(kindOf(key)))
    .map((key) => ({ end: { component: key, terminal: kindOf(key) === 'charger' ? 'out' : '+' }, at: 0 }))
  while (queue.length > 0) {
    const next: typeof queue = []
    for (const { end, at } of queue) {
      if (found.has(place(end))) continue
      found.set(place(end), at)
      const kind = kindOf(end.component)
      if (kind === 'chassis' || kind === 'ground-point') continue
      for (const link of linksAt.get(end.component) ?? []) {
        const [here, there] = link.from.component === end.component ? [link.from, link.to] : [link.to, link.from]
        if (place(here) === place(end)) next.push({ end: there, at: at + 1 })
        else if (passes(kind, end.terminal, here.terminal)) next.push({ end: here, at: at + 1 })
      }
    }
    queue = next
  }
  return (end) => found.get(place(end)) ?? Number.POSITIVE_INFINITY
}

/** The first source, or else the first bar, that is come to from an end without passing the bar it is joined to. */
function railBeyond(given: {
  readonly from: End
  readonly not: string
  readonly linksAt: ReadonlyMap<string, readonly Link[]>
  readonly isRail: (key: string) => boolean
  readonly isGround: (key: string) => boolean
  readonly kindOf: (key: string) => string
}): string | null {
  const { linksAt, isRail, isGround, kindOf } = given
  const seen = new Set([given.not])
  let bar: string | null = null
  const path = [given.from]
  for (let end = path.shift(); end !== undefined; end = path.shift()) {
    const key = end.component
    if (seen.has(key) || isGround(key)) continue
    seen.add(key)
    if (SOURCES.includes(kindOf(key))) return key
    if (isRail(key)) bar ??= key
    else
      for (const link of linksAt.get(key) ?? []) {
        const [here, there] = link.from.component === key ? [link.from, link.to] : [link.to, link.from]
        if (here.terminal === end.terminal || passes(kindOf(key), end.terminal, here.terminal)) path.push(there)
      }
  }
  return bar
}

/** Whether a feed that comes in at one terminal goes on at another. */
function passes(kind: string, one: string, other: string): boolean {
  if (kind === 'battery' || kind === 'alternator' || kind === 'charger') return false
  if (kind !== 'relay') return true
  return ['85', '86'].includes(one) === ['85', '86'].includes(other)
}

function stepsOf(key: string, linksAt: ReadonlyMap<string, readonly Link[]>, steps: (end: End) => number): number {
  const ends = (linksAt.get(key) ?? []).flatMap((link) => [link.from, link.to]).filter((end) => end.component === key)
  return Math.min(Number.POSITIVE_INFINITY, ...ends.map(steps))
}

/** The way of the rail that a circuit hangs on: blocks before sources, then by name and way. */
function firstFeed(
  group: readonly string[],
  given: {
    readonly linksAt: ReadonlyMap<string, readonly Link[]>
    readonly isRail: (key: string) => boolean
    readonly kindOf: (key: string) => string
    readonly steps: (end: End) => number
  },
): string {
  const { linksAt, isRail, kindOf } = given
  const ends = group.flatMap((key) => linksAt.get(key) ?? []).flatMap((link) => [link.from, link.to])
  const rank = (end: End) => `${['block', 'battery', 'alternator', 'charger', 'converter'].indexOf(kindOf(end.component)) % 9}`
  const feeds = ends
    .filter((end) => isRail(end.component))
    .map((end) => `${kindOf(end.component) === 'splice' ? 8 : rank(end)} ${nameOf(end)}`)
  return [...feeds].sort(naturally)[0] ?? '9'
}

function connected(keys: readonly string[], neighbours: (key: string) => readonly string[]): readonly (readonly string[])[] {
  const seen = new Set<string>()
  const groups: string[][] = []
  for (const first of keys) {
    if (seen.has(first)) continue
    const group: string[] = []
    const path = [first]
    seen.add(first)
    for (let key = path.pop(); key !== undefined; key = path.pop()) {
      group.push(key)
      for (const next of neighbours(key)) {
        if (seen.has(next)) continue
        seen.add(next)
        path.push(next)
      }
    }
    groups.push(group)
  }
  return groups
}

/** From what is nearest a source on, breadth or depth first. */
function inFeedOrder(
  members: readonly string[],
  given: {
    readonly neighbours: (key: string) => readonly string[]
    readonly steps: (key: string) => number
    readonly isBroad: boolean
  },
): readonly string[] {
  const isIn = new Set(members)
  const ordered = new Set<string>()
  for (const first of [...members].sort((a, b) => given.steps(a) - given.steps(b))) {
    const path = [first]
    for (let at = path.pop(); at !== undefined; at = path.pop()) {
      if (ordered.has(at)) continue
      ordered.add(at)
      const next = given.neighbours(at).filter((key) => isIn.has(key) && !ordered.has(key))
      if (given.isBroad) path.unshift(...next.reverse())
      else path.push(...next.reverse())
    }
  }
  return [...ordered]
}

function chunked(keys: readonly string[], most: number): readonly (readonly string[])[] {
  const count = Math.ceil(keys.length / Math.max(1, most))
  const size = Math.ceil(keys.length / Math.max(1, count))
  return Array.from({ length: count }, (_, n) => keys.slice(n * size, (n + 1) * size)).filter((chunk) => chunk.length > 0)
}
