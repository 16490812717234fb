/** A part's ratings as form fields, made from the part kind's own fields, and read back. */
import { fieldsOf } from '../../engine/parts/index.ts'
import type { RatingField } from '../../engine/parts/part-kind.ts'
import type { Grade, Part, Rating, Ratings } from '../../engine/vehicle.ts'
import type { FormReader } from '../../web/form.ts'
import { unitWord } from '../../web/format.ts'
import { type Option, option } from './options.ts'

export const grades: readonly Grade[] = ['datasheet', 'marked', 'measured', 'typical', 'assumed']
export type FieldView = {
  readonly name: string
  readonly label: string
  readonly unit: string
  readonly isChoice: boolean
  readonly isNumber: boolean
  readonly choices: readonly Option[]
  readonly value: string
  readonly gradeOptions: readonly Option[]
}

export function fieldViews(kind: string, given: { readonly typed: (name: string) => string }): readonly FieldView[] {
  return fieldsOf(kind)
    .filter((field) => field.type !== 'rows' && field.type !== 'size')
    .map((field) => {
      const choices = field.type === 'choice' ? field.options : field.type === 'flag' ? ['yes', 'no'] : []
      return {
        name: field.name,
        label: field.label,
        unit: field.type === 'number' && field.unit !== '' ? unitWord(field.unit) : '',
        isChoice: choices.length > 0,
        isNumber: field.type === 'number',
        choices: choices.map((value) => option(value, value, given.typed(field.name))),
        value: given.typed(field.name),
        gradeOptions: grades.map((value) => option(value, value, given.typed(`grade-${field.name}`) || 'assumed')),
      }
    })
}

/** Ratings in words, as the form labels them. */
export function ratingLabel(kind: string): (field: string) => string {
  const labels = new Map(fieldsOf(kind).map((field) => [field.name, field.label]))
  return (field) => {
    const of = field.startsWith('grade-') ? labels.get(field.slice('grade-'.length)) : undefined
    return of ? `How ${of.toLowerCase()} is known` : (labels.get(field) ?? field.replace(/^./, (letter) => letter.toUpperCase()))
  }
}

/** A refused piece of a part as the form calls it. */
export function ratingField(refused: string): string {
  const [, list, name = ''] = /^(ratings|evidence)\.([^.]+)/.exec(refused) ?? []
  return list === 'ratings' ? name : list === 'evidence' ? `grade-${name}` : refused
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

/** What the form shows for a part that has its figures. */
export function typedFrom(part: Part): (name: string) => string {
  return (name) => {
    if (name.startsWith('grade-')) return part.evidence?.[name.slice('grade-'.length)] ?? 'assumed'
    const value = part.ratings[name]
    return value === undefined || typeof value === 'object' ? '' : typeof value === 'boolean' ? (value ? 'yes' : 'no') : String(value)
  }
}

/** Figures that the form does not show (rows, named sizes), so that they can stay as they are. */
export function ratingsUnseen(part: Part): { readonly ratings: Ratings; readonly evidence: Readonly<Record<string, Grade>> } {
  const unseen = fieldsOf(part.kind).flatMap((one) => (one.type === 'rows' || one.type === 'size' ? [one.name] : []))
  const of = <T>(record: Readonly<Record<string, T>>) =>
    Object.fromEntries(Object.entries(record).filter(([name]) => unseen.includes(name)))
  return { ratings: of(part.ratings), evidence: of(part.evidence ?? {}) }
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
