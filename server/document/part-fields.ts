/** zod schemas built from the part kinds' own fields: one description serves forms, records, documents and JSON Schema. */
import { z } from 'zod'
import { fieldsOf, partKinds } from '../engine/parts/index.ts'
import type { RatingField } from '../engine/parts/part-kind.ts'

export const gradeSchema = z.enum(['datasheet', 'marked', 'measured', 'typical', 'assumed'])

const schemas = new Map(
  partKinds.map((kind) => [
    kind.id,
    z.strictObject(Object.fromEntries(fieldsOf(kind.id).map((field) => [field.name, fieldSchema(field).optional()]))),
  ]),
)

/** The ratings that a part of that kind may carry; an unknown kind accepts none. */
export function ratingsSchema(kindId: string): z.ZodType<Record<string, unknown>> {
  return (schemas.get(kindId) ?? z.strictObject({})) as z.ZodType<Record<string, unknown>>
}

function fieldSchema(field: RatingField): z.ZodType {
  switch (field.type) {
    case 'number': {
      let number = z.number().finite()
      if (field.whole) number = number.int()
      if (field.aboveZero) number = number.gt(0)
      if (field.min !== undefined) number = number.gte(field.min)
      return number.lte(field.max ?? 1e6)
    }
    case 'choice':
      return z.enum(field.options as [string, ...string[]])
    case 'text':
      return field.pattern ? z.string().max(80).regex(new RegExp(field.pattern)) : z.string().min(1).max(80)
    case 'flag':
      return z.boolean()
    case 'rows':
      return z
        .array(z.strictObject(Object.fromEntries(field.columns.map((column) => [column.name, columnSchema(column.unit)]))))
        .min(1)
        .max(100)
    case 'size':
      return z.strictObject({ system: z.enum(['AWG', 'SAE', 'mm2']), name: z.string().min(1).max(10) })
  }
}

/** A figure in a row: temperatures may be below zero, nothing else may. */
function columnSchema(unit: string): z.ZodType {
  return unit === 'degC' ? z.number().gte(-60).lte(1000) : z.number().gte(0).lte(1e6)
}
