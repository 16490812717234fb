/** A part's ratings as form fields, made from the part kind's own fields, and read back. */
import { fieldsOf } from '../../engine/parts/index.ts'
import type { RatingField } from '../../engine/parts/part-kind.ts'
import type { Grade, Rating, Ratings } from '../../engine/vehicle.ts'
import type { FormReader } from '../../web/form.ts'
import { unitWord } from '../../web/format.ts'

export const grades: readonly Grade[] = ['datasheet', 'marked', 'measured', 'typical', 'assumed']
export type FieldView = {
  readonly name: string
  readonly label: string
  readonly unit: string
  readonly options: readonly { readonly value: string; readonly chosen: boolean }[]
  readonly isChoice: boolean
  readonly value: string
  readonly grades: readonly { readonly value: string; readonly chosen: boolean }[]
}

export function fieldViews(kind: string, given: { readonly typed: (name: string) => string }): readonly FieldView[] {
  return fieldsOf(kind)
    .filter((field) => field.type !== 'rows' && field.type !== 'size')
    .map((field) => {
      const options = field.type === 'choice' ? field.options : field.type === 'flag' ? ['yes', 'no'] : []
      return {
        name: field.name,
        label: field.label,
        unit: field.type === 'number' && field.unit !== '' ? unitWord(field.unit) : '',
        isChoice: options.length > 0,
        options: options.map((value) => ({ value, chosen: given.typed(field.name) === value })),
        value: given.typed(field.name),
        grades: grades.map((value) => ({ value, chosen: (given.typed(`grade-${field.name}`) || 'assumed') === value })),
      }
    })
}

export function readRatings(
  form: FormReader,
  kind: string,
): { readonly ratings: Ratings; readonly evidence: Readonly<Record<string, Grade>> } {
  const ratings: Record<string, Rating> = {}
  const evidence: Record<string, Grade> = {}
  for (const field of fieldsOf(kind)) {
    const value = readField(form, field)
    if (value === null) continue
    ratings[field.name] = value
    const grade = form.choice<Grade>(`grade-${field.name}`, grades, 'assumed')
    if (grade !== 'assumed') evidence[field.name] = grade
  }
  return { ratings, evidence }
}

function readField(form: FormReader, field: RatingField): Rating | null {
  switch (field.type) {
    case 'number':
      return form.number(field.name, {
        ...(field.min === undefined ? {} : { min: field.min }),
        max: field.max ?? 1e6,
        ...(field.aboveZero ? { aboveZero: true } : {}),
        ...(field.whole ? { whole: true } : {}),
      })
    case 'choice':
      return form.choice(field.name, ['', ...field.options], '') || null
    case 'flag':
      return { yes: true, no: false }[form.choice(field.name, ['', 'yes', 'no'], '') as 'yes' | 'no'] ?? null
    case 'text': {
      const text = form.text(field.name, { max: 80 })
      if (text !== '' && field.pattern && !new RegExp(field.pattern).test(text))
        form.fault(field.name, `“${text}” is not of the right form.`)
      return text === '' ? null : text
    }
    default:
      return null
  }
}
