/** The description of all operations (OpenAPI 3.1), made from the very list that the routes are made from. */
import { z } from 'zod'
import { KEPT_days } from '../records/once-keys.ts'
import type { Operation } from './operation.ts'
import { operations } from './operations.ts'
import { PROBLEMS } from './problem.ts'
import { problemAnswers, problemsTold } from './problems-of.ts'
import { named, problem } from './shapes.ts'

export type JsonSchema = { readonly [word: string]: unknown }
export type Parameter = {
  readonly name: string
  readonly in: 'path' | 'query' | 'header'
  readonly required: boolean
  readonly description: string
  readonly schema: JsonSchema
}
export type Described = {
  readonly operationId: string
  readonly summary: string
  readonly description: string
  readonly parameters: readonly Parameter[]
  readonly requestBody?: { readonly required: true; readonly content: Content }
  readonly responses: Readonly<Record<string, Answered | { readonly $ref: string }>>
}
export type Headers = Readonly<Record<string, { readonly description: string; readonly schema: JsonSchema }>>
export type Answered = { readonly description: string; readonly headers?: Headers; readonly content: Content }
type Content = Readonly<Record<string, { readonly schema: JsonSchema; readonly example?: unknown }>>
export type ApiDocument = {
  readonly openapi: '3.1.0'
  readonly info: { readonly title: string; readonly version: string; readonly description: string }
  readonly servers: readonly { readonly url: string }[]
  readonly security: readonly Readonly<Record<string, readonly string[]>>[]
  readonly paths: Readonly<Record<string, Readonly<Record<string, Described>>>>
  readonly components: {
    readonly schemas: Readonly<Record<string, JsonSchema>>
    readonly responses: Readonly<Record<string, Answered>>
    readonly securitySchemes: Readonly<Record<string, unknown>>
  }
}

let made: ApiDocument | undefined

export function apiDocument(): ApiDocument {
  made ??= make()
  return made
}

const refTo = (id: string) => `#/components/schemas/${id}`

function make(): ApiDocument {
  const paths: Record<string, Record<string, Described>> = {
    '/api/openapi.json': {
      get: {
        operationId: 'readDescription',
        summary: 'This description',
        description: '',
        parameters: [],
        responses: {
          200: { description: 'OpenAPI 3.1', content: { 'application/json': { schema: { type: 'object' } } } },
          ...problemsTold({}),
          default: PROBLEM,
        },
      },
    },
  }
  for (const one of operations) {
    const path = `/api${one.path.replace(':id', '{id}')}`
    paths[path] = { ...paths[path], [one.method.toLowerCase()]: described(one) }
  }
  const { schemas } = z.toJSONSchema(named, { uri: refTo, io: 'input', unrepresentable: 'any' })
  return {
    openapi: '3.1.0',
    info: {
      title: 'Loombook',
      version: '1',
      description: 'What programs can ask of this household’s journal. Figures carry their units in their names.',
    },
    servers: [{ url: '/' }],
    security: [{ token: [] }],
    paths,
    components: {
      schemas: Object.fromEntries(Object.entries(schemas).map(([id, schema]) => [id, bare(schema)])),
      responses: {
        Problem: {
          description: 'It was not done.',
          content: { 'application/problem+json': { schema: schemaOf(problem), example: EXAMPLE_PROBLEM } },
        },
        ...problemAnswers([{}, ...operations]),
      },
      securitySchemes: { token: { type: 'http', scheme: 'bearer' } },
    },
  }
}

const PROBLEM = { $ref: '#/components/responses/Problem' }
const EXAMPLE_PROBLEM = {
  type: '/api-guide#not-valid',
  ...PROBLEMS['not-valid'],
  detail: 'The body is not as it should be: one fault.',
  faults: [{ field: 'effectiveOn', says: 'Give a date as YYYY-MM-DD.' }],
}

function described(one: Operation): Described {
  const body = one.bodyAsDescribed ?? one.body
  return {
    operationId: one.id,
    summary: one.summary,
    description: [one.about ?? '', one.writes ? 'The token must be one that writes.' : ''].filter((text) => text !== '').join(' '),
    parameters: parametersOf(one),
    ...(body && {
      requestBody: { required: true, content: { 'application/json': { schema: schemaOf(body), example: one.example } } } as const,
    }),
    responses: {
      [one.status]: { description: one.summary, ...headersOf(one), content: contentOf(one.answer) },
      ...problemsTold(one),
      default: PROBLEM,
    },
  }
}

function headersOf(one: Operation): { readonly headers?: Headers } {
  if (one.isOnce) return { headers: REPLAYED }
  return one.answer instanceof z.ZodType ? {} : { headers: FILE }
}

const FILE: Headers = {
  'content-disposition': { description: 'A file to keep, and its name (RFC 6266).', schema: { type: 'string' } },
}
const REPLAYED: Headers = {
  'idempotency-replayed': {
    description: 'There where the Idempotency-Key came before: nothing more was done, and this is the answer of the first time.',
    schema: { const: 'true' },
  },
}
function parametersOf(one: Operation): Parameter[] {
  const id: Parameter = { name: 'id', in: 'path', required: true, description: 'The id of it.', schema: { type: 'string', format: 'uuid' } }
  const key: Parameter = {
    name: 'Idempotency-Key',
    in: 'header',
    required: false,
    description:
      `A word of your own for this request: sent again with it within ${KEPT_days} days, it is done once and answered the same. ` +
      'The same is what has the same address and the same values in its body, in whatever order its fields stand.',
    schema: { type: 'string', minLength: 1, maxLength: 255 },
  }
  return [...(one.path.includes(':id') ? [id] : []), ...queryParameters(one), ...(one.isOnce ? [key] : [])]
}

function queryParameters(one: Operation): Parameter[] {
  if (!one.query) return []
  const { properties, required } = schemaOf(one.query) as {
    properties: Readonly<Record<string, JsonSchema & { description?: string }>>
    required?: readonly string[]
  }
  return Object.entries(properties).map(([name, { description, ...schema }]) => ({
    name,
    in: 'query',
    required: required?.includes(name) === true,
    description: description ?? '',
    schema,
  }))
}

function contentOf(answer: Operation['answer']): Content {
  if (answer instanceof z.ZodType) return { 'application/json': { schema: schemaOf(answer) } }
  const types = answer as readonly string[]
  return Object.fromEntries(types.map((type) => [type, { schema: { type: 'string', contentMediaType: type } }]))
}

/** What has a name is pointed to; the rest is said in place. */
function schemaOf(schema: z.ZodType): JsonSchema {
  const known = named.get(schema)
  if (known) return { $ref: refTo(known.id) }
  return bare(z.toJSONSchema(schema, { io: 'input', unrepresentable: 'any', reused: 'inline', override: pointToNamed }))
}

/** Within what is said in place, what has a name is pointed to all the same. */
function pointToNamed({
  zodSchema,
  jsonSchema,
}: {
  readonly zodSchema: z.core.$ZodTypes
  readonly jsonSchema: z.core.JSONSchema.BaseSchema
}): void {
  const known = named.get(zodSchema as never)
  if (!known) return
  for (const word of Object.keys(jsonSchema)) delete jsonSchema[word]
  jsonSchema.$ref = refTo(known.id)
}

function bare(schema: object): JsonSchema {
  const { $schema: _dialect, $id: _id, id: _name, $defs: _kept, ...rest } = schema as Record<string, unknown>
  return rest
}
