/** A document's wiring as a drawing sees it: symbols tied to each other by conductors, or directly. */
import { isFluid, partKind } from '../engine/parts/index.ts'
import type { Component, Part, VehicleDocument } from '../engine/vehicle.ts'

/** A terminal of a component, or of a point that is no component: where bare ends meet, or one that is joined to nothing. */
export type End = { readonly component: string; readonly terminal: string }

/** `conductor` null: joined directly. */
export type Link = { readonly conductor: string | null; readonly from: End; readonly to: End }

export type Linked = {
  readonly links: readonly Link[]
  /** all components that are drawn as symbols, by key */
  readonly symbols: ReadonlyMap<string, { readonly component: Component; readonly part: Part }>
  readonly conductors: ReadonlyMap<string, { readonly component: Component; readonly part: Part }>
  /** by the end's name of each point that is no component, whether several ends meet there */
  readonly points: ReadonlyMap<string, 'joint' | 'open'>
}

/** Hoses and fluid joins are left out: they carry no current. */
export function linksOf(document: VehicleDocument): Linked {
  const parts = new Map(document.parts.map((part) => [part.key, part]))
  const symbols = new Map<string, { component: Component; part: Part }>()
  const conductors = new Map<string, { component: Component; part: Part }>()
  for (const component of [...document.components].sort((a, b) => (a.key < b.key ? -1 : 1))) {
    const part = parts.get(component.part)
    if (!part || part.kind === 'hose') continue
    ;(part.kind === 'conductor' ? conductors : symbols).set(component.key, { component, part })
  }
  const links: Link[] = []
  const meeting = new Meeting()
  const outside = new Map<string, End[]>()
  for (const [from, to] of joinsOf(document, symbols)) {
    const bare = [from, to].filter((end) => conductors.has(end.component))
    if (bare.length === 2) meeting.tie(nameOf(from), nameOf(to))
    else if (bare.length === 1) {
      const [wire, other] = conductors.has(from.component) ? [from, to] : [to, from]
      outside.set(nameOf(wire), [...(outside.get(nameOf(wire)) ?? []), other])
    } else links.push({ conductor: null, from, to })
  }
  const points = new Map<string, 'joint' | 'open'>()
  const metAt = new Map<string, End>()
  const members = new Map<string, string[]>()
  for (const key of conductors.keys())
    for (const terminal of ['a', 'b']) {
      const root = meeting.rootOf(`${key}:${terminal}`)
      members.set(root, [...(members.get(root) ?? []), `${key}:${terminal}`])
    }
  for (const [root, ends] of members) {
    const others = distinct(
      ends.flatMap((end) => outside.get(end) ?? []),
      symbols,
    )
    if (others.length === 1) {
      metAt.set(root, others[0] as End)
      continue
    }
    const point = `:${points.size + 1}`
    points.set(point, ends.length + others.length > 1 ? 'joint' : 'open')
    metAt.set(root, { component: point, terminal: '1' })
    for (const other of others) links.push({ conductor: null, from: { component: point, terminal: '1' }, to: other })
  }
  const endOf = (name: string) => metAt.get(meeting.rootOf(name)) as End
  for (const key of conductors.keys()) links.push({ conductor: key, from: endOf(`${key}:a`), to: endOf(`${key}:b`) })
  return { links: withoutTwins(links), symbols, conductors, points }
}

function joinsOf(document: VehicleDocument, symbols: Linked['symbols']): readonly (readonly [End, End])[] {
  const isDry = ({ component, terminal }: End) => !isFluid(symbols.get(component)?.part.kind ?? '', terminal)
  const known = new Set(document.components.map((one) => one.key))
  return [...document.joins]
    .map((join) => [endFrom(join.from), endFrom(join.to)] as const)
    .filter((pair) => pair.every((end) => known.has(end.component) && isDry(end)))
    .sort(([a, b], [c, d]) => (`${nameOf(a)} ${nameOf(b)}` < `${nameOf(c)} ${nameOf(d)}` ? -1 : 1))
}

function endFrom(full: string): End {
  const at = full.indexOf(':')
  return { component: full.slice(0, at), terminal: full.slice(at + 1) }
}

export function nameOf(end: End): string {
  return `${end.component}:${end.terminal}`
}

/** Terminals of one block or stud are one place. */
function distinct(ends: readonly End[], symbols: Linked['symbols']): readonly End[] {
  const placeOf = (end: End) =>
    partKind(symbols.get(end.component)?.part.kind ?? '')?.terminals.type === 'one-node' ? end.component : nameOf(end)
  return [...new Map([...ends].reverse().map((end) => [placeOf(end), end])).values()].reverse()
}

function withoutTwins(links: readonly Link[]): readonly Link[] {
  const seen = new Set<string>()
  return links.filter((link) => {
    if (link.conductor !== null) return true
    const name = [nameOf(link.from), nameOf(link.to)].sort().join(' ')
    if (seen.has(name)) return false
    seen.add(name)
    return true
  })
}

/** Which ends meet, found through chains of joins. */
class Meeting {
  private readonly above = new Map<string, string>()

  rootOf(name: string): string {
    let root = name
    for (let next = this.above.get(root); next !== undefined; next = this.above.get(root)) root = next
    return root
  }

  tie(one: string, other: string): void {
    const [a, b] = [this.rootOf(one), this.rootOf(other)].sort() as [string, string]
    if (a !== b) this.above.set(b, a)
  }
}
