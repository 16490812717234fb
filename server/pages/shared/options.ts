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

/** So many of one kind are read in a list; of a fuller shelf those in stock come first, and the rest is made new by its figure. */
export const MOST_PARTS = 50

/** Parts of one kind, those in stock first where not all of them are offered. The one picked is always among them. */
export function partOptions(
  parts: readonly StoredPart[],
  given: { readonly picked: string; readonly kind: string; readonly most?: number },
): readonly Option[] {
  const ofKind = parts.filter((part) => part.kind === given.kind)
  const { most = MOST_PARTS } = given
  const isMany = ofKind.length > most
  const rank = (part: StoredPart): number => (part.id === given.picked ? 0 : part.inStock > 0 ? 1 : 2)
  const offered = isMany ? [...ofKind].sort((a, b) => rank(a) - rank(b)).slice(0, most) : ofKind
  return offered.map((part) => partOption(part, given.picked))
}

/** "50 of 2500 are offered, those in stock first"; nothing where all of that kind are. */
export function partsHint(parts: readonly StoredPart[], kind: string): string {
  const count = parts.filter((part) => part.kind === kind).length
  return count > MOST_PARTS ? `${MOST_PARTS} of ${count} are offered, those in stock first` : ''
}

/** Parts by kind, the wanted kind first; `most` of each. */
export function partGroups(
  parts: readonly StoredPart[],
  given: { readonly picked: string; readonly wantedKind: string; readonly most?: number },
): readonly Group[] {
  const kinds = [...new Set(parts.map((part) => part.kind))].sort(
    (a, b) => Number(b === given.wantedKind) - Number(a === given.wantedKind) || (a < b ? -1 : 1),
  )
  return kinds.map((kind) => ({
    label: partKind(kind)?.title ?? kind,
    options: partOptions(parts, { picked: given.picked, kind, most: given.most ?? parts.length }),
  }))
}
