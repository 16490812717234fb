/** What selects offer. */
import { partKind } from '../../engine/parts/index.ts'
import type { Offered, OfferedPart } from '../../records/parts-offered.ts'
import type { StoredPart } from '../../records/parts.ts'

export type Option = { readonly value: string; readonly label: string; readonly chosen: boolean }
export type Group = { readonly label: string; readonly options: readonly Option[] }

export function option(value: string, label: string, picked: string): Option {
  return { value, label, chosen: value === picked }
}

/** "70 A make relay (1 on the shelf)". */
export function partOption(part: OfferedPart, picked: string): Option {
  return option(part.id, part.inStock > 0 ? `${part.name} (${part.inStock} on the shelf)` : part.name, picked)
}

/** So many of one kind are read in a list; of a fuller shelf those in stock come first, and the rest is made new by its figure. */
export const MOST_PARTS = 50

/** "50 of 2500 are offered, those in stock first"; nothing where all of that kind are. */
export function partsHint({ count, most }: Offered): string {
  return count > most ? `${most} of ${count} are offered, those in stock first` : ''
}

/** Parts by kind, the wanted kind first. */
export function partGroups(
  parts: readonly StoredPart[],
  given: { readonly picked: string; readonly wantedKind: string },
): readonly Group[] {
  const kinds = [...new Set(parts.map((part) => part.kind))]
  return wantedFirst(kinds, given.wantedKind).map((kind) => ({
    label: partKind(kind)?.title ?? kind,
    options: parts.filter((part) => part.kind === kind).map((part) => partOption(part, given.picked)),
  }))
}

export function wantedFirst(kinds: readonly string[], wanted: string): readonly string[] {
  return [...kinds].sort((a, b) => Number(b === wanted) - Number(a === wanted) || (a < b ? -1 : 1))
}
