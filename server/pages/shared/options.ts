/** What selects offer. */
import { partKind } from '../../engine/parts/index.ts'
import type { StoredPart } from '../../records/parts.ts'

export type Option = { readonly value: string; readonly label: string; readonly chosen: boolean }
export type Group = { readonly label: string; readonly options: readonly Option[] }

export function option(value: string, label: string, picked: string): Option {
  return { value, label, chosen: value === picked }
}

/** "70 A make relay (1 on the shelf)". */
export function partOption(part: StoredPart, picked: string): Option {
  return option(part.id, part.inStock > 0 ? `${part.name} (${part.inStock} on the shelf)` : part.name, picked)
}

/** Parts by kind, the wanted kind first. */
export function partGroups(
  parts: readonly StoredPart[],
  given: { readonly picked: string; readonly wantedKind: string },
): readonly Group[] {
  const kinds = [...new Set(parts.map((part) => part.kind))].sort(
    (a, b) => Number(b === given.wantedKind) - Number(a === given.wantedKind) || (a < b ? -1 : 1),
  )
  return kinds.map((kind) => ({
    label: partKind(kind)?.title ?? kind,
    options: parts.filter((part) => part.kind === kind).map((part) => partOption(part, given.picked)),
  }))
}
