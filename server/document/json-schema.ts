/** JSON Schema 2020-12 of the format, made from the schema that validates it. */
import { z } from 'zod'
import { documentShape } from './schema.ts'

export function documentSchema(): object {
  return { title: 'loombook-vehicle/1', ...z.toJSONSchema(documentShape, { target: 'draft-2020-12', unrepresentable: 'any' }) }
}
