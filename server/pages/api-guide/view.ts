/** The description of what programs can ask for, to be read by people. */
type Schema = { readonly [word: string]: unknown }
type Content = Readonly<Record<string, { readonly schema: Schema; readonly example?: unknown }>>
type Described = {
  readonly operationId: string
  readonly summary: string
  readonly description: string
  readonly parameters: readonly {
    readonly name: string
    readonly in: string
    readonly required: boolean
    readonly description: string
    readonly schema: Schema
  }[]
  readonly requestBody?: { readonly content: Content }
  readonly responses: Readonly<Record<string, { readonly content: Content } | { readonly $ref: string }>>
}
type Document = {
  readonly paths: Readonly<Record<string, Readonly<Record<string, Described>>>>
  readonly components: { readonly schemas: Readonly<Record<string, Schema>> }
}

export type View = {
  readonly address: string
  readonly operations: readonly {
    readonly id: string
    readonly call: string
    readonly summary: string
    readonly about: string
    readonly parameters: readonly { readonly name: string; readonly where: string; readonly kind: string; readonly about: string }[]
    /** names of shapes; empty: none */
    readonly takes: string
    readonly gives: string
    readonly example: string
  }[]
  readonly shapes: readonly { readonly name: string; readonly text: string }[]
}

const ID = '0190a000-0000-7000-8000-000000000001'
/** What is longer is for programs to read: it stands in the description. */
const MOST_letters = 8000

export function view(given: { readonly document: Document; readonly address: string }): View {
  const { document, address } = given
  return {
    address,
    operations: Object.entries(document.paths).flatMap(([path, methods]) =>
      Object.entries(methods).map(([method, one]) => ({
        id: one.operationId,
        call: `${method.toUpperCase()} ${path}`,
        summary: one.summary,
        about: one.description,
        parameters: one.parameters.map((parameter) => ({
          name: parameter.name,
          where: `${parameter.in}${parameter.required ? '' : ', may be left out'}`,
          kind: kindOf(parameter.schema),
          about: parameter.description,
        })),
        takes: one.requestBody ? namesIn(one.requestBody.content) : '',
        gives: Object.values(one.responses)
          .flatMap((response) => ('content' in response ? [namesIn(response.content)] : []))
          .join(', '),
        example: exampleOf({ method, path, one, address }),
      })),
    ),
    shapes: Object.entries(document.components.schemas)
      .map(([name, schema]) => ({ name, text: JSON.stringify(schema, null, 1) }))
      .map(({ name, text }) => ({ name, text: text.length > MOST_letters ? '' : text })),
  }
}

/** A line for a shell. */
function exampleOf(given: { readonly method: string; readonly path: string; readonly one: Described; readonly address: string }): string {
  const { method, path, one, address } = given
  const to = `${address}${path.replace('{id}', ID)}`
  const call = `curl -H 'Authorization: Bearer TOKEN'`
  if (method === 'get') return `${call} ${to}`
  const body = JSON.stringify(Object.values(one.requestBody?.content ?? {})[0]?.example ?? {})
  const key = one.parameters.some((parameter) => parameter.name === 'Idempotency-Key') ? ` -H 'Idempotency-Key: my-first'` : ''
  return `${call} -H 'Content-Type: application/json'${key} -d '${body}' ${to}`
}

function namesIn(content: Content): string {
  return Object.entries(content)
    .map(([type, { schema }]) => (type === 'application/json' ? shapeName(schema) : type))
    .join(', ')
}

function shapeName(schema: Schema): string {
  const ref = (one: unknown) =>
    String((one as Schema | undefined)?.$ref ?? '')
      .split('/')
      .at(-1) ?? ''
  if (schema.$ref !== undefined) return ref(schema)
  const items = (schema.properties as Readonly<Record<string, Schema>> | undefined)?.items
  return items ? `a list of ${ref(items.items)}` : String(schema.type ?? 'JSON')
}

function kindOf(schema: Schema): string {
  if (Array.isArray(schema.enum)) return schema.enum.join(', ')
  return schema.format === undefined ? String(schema.type ?? '') : String(schema.format)
}
