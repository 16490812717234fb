/** The parts offered for a job, as they are read on a phone: name, main figure, how many and where. */
import { partKind } from '../../engine/parts/index.ts'
import type { PartChoices } from '../../records/part-choices.ts'
import { mainFigure } from '../shared/main-rating.ts'

export type ChoicesView = {
  readonly count: string
  readonly choices: readonly {
    readonly n: number
    readonly value: string
    readonly name: string
    readonly figure: string
    /** named where it is not the kind that is in place */
    readonly kind: string
    readonly stock: string
    readonly chosen: boolean
  }[]
}

/** So many are read at a glance; typing narrows the rest. */
export const MOST_CHOICES = 8

export function choicesView(given: PartChoices & { readonly kind: string; readonly picked: string; readonly words: string }): ChoicesView {
  const { found, more, kind, picked, words } = given
  return {
    count:
      found.length === 0
        ? words === ''
          ? 'No part is on the shelf yet.'
          : `No part says “${words}”.`
        : more
          ? `The first ${found.length}; type to narrow them.`
          : found.length === 1
            ? 'One part.'
            : `${found.length} parts.`,
    choices: found.map((part, n) => ({
      n,
      value: part.id,
      name: part.name,
      figure: mainFigure(part),
      kind: part.kind === kind ? '' : (partKind(part.kind)?.title ?? part.kind).toLowerCase(),
      stock: stockWords(part),
      chosen: part.id === picked,
    })),
  }
}

/** "2 on the shelf, box 3". */
function stockWords(part: { readonly inStock: number; readonly place: string }): string {
  if (part.inStock === 0) return 'none on the shelf'
  return `${part.inStock} on the shelf${part.place === '' ? '' : `, ${part.place}`}`
}
