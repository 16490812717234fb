/** A part's rating as pages print it. */
import type { RatingField } from '../../engine/parts/part-kind.ts'
import type { Grade, Rating } from '../../engine/vehicle.ts'
import { figure } from '../../web/format.ts'

export function ratingWords(field: RatingField, value: Rating | undefined): string {
  if (value === undefined) return 'not known'
  if (typeof value === 'number') return figure(value, field.type === 'number' ? field.unit : '')
  if (typeof value === 'boolean') return value ? 'yes' : 'no'
  if (typeof value === 'string') return value
  if ('system' in value) return `${value.system} ${value.name}`
  if (field.type !== 'rows') return `${value.length} rows`
  return value
    .map((row) => field.columns.flatMap(({ name, unit }) => (row[name] === undefined ? [] : [figure(row[name], unit)])).join(', '))
    .join('; ')
}

/** A figure that nobody read off a sheet, a marking or a meter says so. */
export function doubt(grade: Grade | undefined): string {
  return grade === undefined || grade === 'assumed' ? ' (assumed)' : grade === 'typical' ? ' (typical)' : ''
}
