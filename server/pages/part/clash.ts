/** Two people changed a part's figures at once: what each of them says, where it is not the same. */
import { fieldsOf } from '../../engine/parts/index.ts'
import type { Grade, Ratings } from '../../engine/vehicle.ts'
import type { RevisionMark } from '../../records/part-versions.ts'
import type { StoredPart } from '../../records/parts.ts'
import type { FormReader } from '../../web/form.ts'
import { instantWords, unitWord } from '../../web/format.ts'

export type ClashRow = { readonly label: string; readonly was: string; readonly is: string; readonly typed: string }

export function clashRows(given: {
  readonly part: StoredPart
  readonly form: FormReader
  readonly basedOn: string
  readonly marks: readonly RevisionMark[]
  readonly timeZone: string
}): readonly ClashRow[] {
  const { part, form, basedOn, marks, timeZone } = given
  const [was, is] = [part.revisions.find((one) => one.id === basedOn), part.revisions.at(-1)]
  const by = (id: string | undefined) => {
    const mark = marks.find((one) => one.id === id)
    return mark ? `${mark.author}, ${instantWords(mark.recordedAt, timeZone)}` : 'not known'
  }
  const fields = fieldsOf(part.kind).filter((field) => field.type !== 'rows' && field.type !== 'size')
  const rows = [
    { label: 'Name', was: was?.name ?? 'not known', is: is?.name ?? '', typed: form.typed('name') },
    ...fields.flatMap((field): ClashRow[] => {
      const unit = field.type === 'number' && field.unit !== '' ? ` ${unitWord(field.unit)}` : ''
      const said = (value: string, grade: string) => (value === '' ? 'not known' : `${value}${unit}, ${grade || 'assumed'}`)
      const of = (one: { readonly ratings: Ratings; readonly evidence: Readonly<Record<string, Grade>> } | undefined) =>
        one ? said(written(one.ratings[field.name]), one.evidence[field.name] ?? 'assumed') : 'not known'
      return [
        { label: field.label, was: of(was), is: of(is), typed: said(form.typed(field.name).trim(), form.typed(`grade-${field.name}`)) },
      ]
    }),
  ].filter((row) => row.was !== row.is || row.is !== row.typed)
  return [{ label: 'Recorded', was: by(was?.id), is: by(is?.id), typed: 'not saved' }, ...rows]
}

function written(value: Ratings[string] | undefined): string {
  return value === undefined ? '' : typeof value === 'boolean' ? (value ? 'yes' : 'no') : String(value)
}
