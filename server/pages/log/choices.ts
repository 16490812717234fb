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
  const { found, kind, picked } = given
  return {
    count: countWords({ ...given, shown: found.length }),
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

function countWords(given: { readonly shown: number; readonly more: boolean; readonly kind: string; readonly words: string }): string {
  const { shown, more, kind, words } = given
  if (kind === '' && words === '') return shown === 0 ? 'Type to find a part.' : 'What is on the shelf; type to find others.'
  if (shown === 0) return words === '' ? 'No part is recorded yet.' : `No part says “${words}”.`
  if (more) return `The first ${shown}; type to narrow them.`
  return shown === 1 ? 'One part.' : `${shown} parts.`
}

/** "2 on the shelf, box 3". */
function stockWords(part: { readonly inStock: number; readonly place: string }): string {
  if (part.inStock === 0) return 'none on the shelf'
  return `${part.inStock} on the shelf${part.place === '' ? '' : `, ${part.place}`}`
}
