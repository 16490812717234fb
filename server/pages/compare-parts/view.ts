import { fieldsOf, partKind } from '../../engine/parts/index.ts'
import type { RatingField } from '../../engine/parts/part-kind.ts'
import type { StoredPart } from '../../records/parts.ts'
import { isInked } from '../shared/finding-view.ts'
import { moneyWords } from '../shared/money-words.ts'
import { ratingWords } from '../shared/rating-words.ts'

export type Candidate = {
  readonly part: StoredPart
  readonly price: { readonly price_minor: number; readonly on: string } | null
  readonly failures: number
}
type Cell = { readonly part: string; readonly value: string; readonly grade: string; readonly inked: boolean; readonly mark: string }
export type View = {
  /** why these cannot be compared; empty where they can */
  readonly refused: string
  readonly kind: string
  readonly parts: readonly { readonly id: string; readonly name: string; readonly chooseHref: string }[]
  readonly rows: readonly { readonly label: string; readonly which: string; readonly cells: readonly Cell[] }[]
}

const MOST = 6

/** The parts asked for, each once, in the order asked. */
export function asked(part: unknown): readonly string[] {
  const all = (Array.isArray(part) ? part : [part]).filter((one): one is string => typeof one === 'string' && one !== '')
  return [...new Set(all)].slice(0, 100)
}

export function view(candidates: readonly Candidate[], given: { readonly currency: string }): View {
  const kinds = [...new Set(candidates.map(({ part }) => part.kind))]
  const refused =
    candidates.length < 2
      ? 'Tick at least two parts to compare.'
      : candidates.length > MOST
        ? `At most ${MOST} parts stand side by side; ${candidates.length} were ticked.`
        : kinds.length > 1
          ? 'Only parts of one kind can be compared.'
          : ''
  if (refused !== '') return { refused, kind: '', parts: [], rows: [] }
  const kind = kinds[0] as string
  const query = candidates.map(({ part }) => `part=${part.id}`).join('&')
  const plain = (label: string, say: (one: Candidate) => string) => ({
    label,
    which: '',
    cells: candidates.map((one) => ({ part: one.part.name, value: say(one), grade: '', inked: true, mark: '' })),
  })
  return {
    refused: '',
    kind: partKind(kind)?.title ?? kind,
    parts: candidates.map(({ part }) => ({ id: part.id, name: part.name, chooseHref: `/decisions/new?${query}&chosen=${part.id}` })),
    rows: [
      ...fieldsOf(kind)
        .filter((field) => ('basic' in field && field.basic) || candidates.some(({ part }) => part.ratings[field.name] !== undefined))
        .map((field) => rowOf(field, candidates)),
      plain('Price of one, last', ({ price }) => (price === null ? 'not known' : moneyWords(price.price_minor, given.currency))),
      plain('On the shelf', ({ part }) => String(part.inStock)),
      plain('Failed here', ({ failures }) => (failures === 0 ? 'no' : failures === 1 ? 'once' : `${failures} times`)),
    ],
  }
}

function rowOf(field: RatingField, candidates: readonly Candidate[]): View['rows'][number] {
  const better = field.type === 'number' ? field.better : undefined
  const best =
    better === undefined
      ? null
      : bestOf(
          candidates.map(({ part }) => part.ratings[field.name]),
          better,
        )
  return {
    label: field.label,
    which: better === undefined ? '' : `${better} is better`,
    cells: candidates.map(({ part }) => {
      const value = part.ratings[field.name]
      const grade = part.evidence?.[field.name] ?? 'assumed'
      return {
        part: part.name,
        value: ratingWords(field, value),
        grade: value === undefined ? '' : grade,
        inked: value !== undefined && isInked(grade),
        mark: best !== null && value === best.value ? best.words : '',
      }
    }),
  }
}

/** The better figure of those known; none where fewer than two are known or all known are alike. What is not known is neither. */
function bestOf(values: readonly unknown[], better: 'higher' | 'lower'): { readonly value: number; readonly words: string } | null {
  const known = values.filter((value): value is number => typeof value === 'number')
  if (new Set(known).size < 2) return null
  const value = better === 'higher' ? Math.max(...known) : Math.min(...known)
  return { value, words: known.length < values.length ? 'better, of those known' : known.length > 2 ? 'best' : 'better' }
}
