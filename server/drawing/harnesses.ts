/** The harnesses of a vehicle: the conductors of each circuit, of the supply and of the ground straps, as the drawing groups them. */
import { groupsOf } from './groups.ts'
import type { Linked } from './links.ts'
import { pieceOfLink } from './plan.ts'

export type Harness = { readonly key: string; readonly name: string; readonly conductors: readonly string[] }

export function harnessesOf(linked: Linked): readonly Harness[] {
  const groups = groupsOf(linked, () => Number.POSITIVE_INFINITY)
  const conductorsOf = new Map<string, string[]>()
  for (const link of linked.links) {
    if (link.conductor === null) continue
    const { id } = pieceOfLink(link, groups)
    conductorsOf.set(id, [...(conductorsOf.get(id) ?? []), link.conductor])
  }
  return groups.pieces.flatMap((piece) => {
    const conductors = conductorsOf.get(piece.id)
    if (!conductors) return []
    const named = (kinds: readonly string[]) =>
      piece.members.flatMap((key) => linked.symbols.get(key) ?? []).filter(({ part }) => kinds.length === 0 || kinds.includes(part.kind))
    const devices = named(['fuse', 'breaker'])
    const loads = named(['load', 'pump'])
    const names = (devices.length > 0 && piece.sort !== 'supply' ? [...devices, ...loads] : loads.length > 0 ? loads : named([]))
      .slice(0, 3)
      .map(({ component }) => component.name)
    const sort = piece.sort === 'supply' ? 'Supply: ' : piece.sort === 'ground' ? 'Straps of ' : ''
    return [{ key: piece.members[0] as string, name: `${sort}${names.join(', ')}`, conductors }]
  })
}
