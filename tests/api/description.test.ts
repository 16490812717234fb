/** The description against the routes, against itself, and against what is really answered. */
import fastify from 'fastify'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { z } from 'zod'
import { type ApiDocument, apiDocument } from '../../server/api/description.ts'
import { api } from '../../server/api/index.ts'
import { operations } from '../../server/api/operations.ts'
import { problemSchema } from '../../server/api/problem.ts'
import { parseDocument } from '../../server/document/parse.ts'
import { pagePatterns } from '../pages/book.ts'
import { type ApiBook, ENTRY, idsOf, openBook } from './book.ts'

let book: ApiBook
let document: ApiDocument
beforeAll(async () => {
  book = await openBook()
  document = (await book.ask('/api/openapi.json')).json() as ApiDocument
})
afterAll(() => book.close())

/** Every value under a key, however deep. */
function under(key: string, value: unknown): unknown[] {
  if (typeof value !== 'object' || value === null) return []
  return Object.entries(value).flatMap(([name, inner]) => [...(name === key ? [inner] : []), ...under(key, inner)])
}

test('every $ref points to something that is there', () => {
  const refs = under('$ref', document) as string[]
  expect(refs.length).toBeGreaterThan(40)
  for (const ref of refs) {
    expect(ref).toMatch(/^#\/components\/(schemas|responses)\/\w+$/)
    const found = ref
      .slice(2)
      .split('/')
      .reduce<unknown>((at, step) => (at as Record<string, unknown> | undefined)?.[step], document)
    expect(found, ref).toBeTypeOf('object')
    expect(Object.keys(found as object).length, ref).toBeGreaterThan(0)
  }
})

test('it is OpenAPI 3.1 in its structure', () => {
  expect(document.openapi).toBe('3.1.0')
  const ids = Object.values(document.paths).flatMap((methods) => Object.values(methods).map((one) => one.operationId))
  expect(new Set(ids).size).toBe(ids.length)
  for (const [path, methods] of Object.entries(document.paths))
    for (const one of Object.values(methods)) {
      const inPath = [...path.matchAll(/\{(\w+)\}/g)].map((found) => found[1])
      const told = one.parameters.filter((parameter) => parameter.in === 'path')
      expect(told.map((parameter) => parameter.name)).toEqual(inPath)
      expect(told.every((parameter) => parameter.required)).toBe(true)
      expect(new Set(one.parameters.map((parameter) => `${parameter.in} ${parameter.name}`)).size).toBe(one.parameters.length)
      expect(Object.keys(one.responses).some((status) => /^20[01]$/.test(status))).toBe(true)
      expect(one.responses.default).toEqual({ $ref: '#/components/responses/Problem' })
    }
  for (const key of ['$id', '$schema', '$defs']) expect(under(key, document)).toEqual([])
})

test('every route below /api is described, and all that is described is a route', async () => {
  const bare = fastify()
  const found: string[] = []
  bare.addHook('onRoute', ({ method, url }) => {
    for (const one of [method].flat()) if (one !== 'HEAD') found.push(`${one} ${url.replace(':id', '{id}')}`)
  })
  await bare.register(api, { prefix: '/api' })
  await bare.ready()
  const told = Object.entries(document.paths).flatMap(([path, methods]) =>
    Object.keys(methods).map((one) => `${one.toUpperCase()} ${path}`),
  )
  expect(found.sort()).toEqual(told.sort())
  expect(told.length).toBe(20)
  await bare.close()
})

test('no page lies where programs ask, for there no session is looked at', () => {
  for (const pattern of pagePatterns()) expect(pattern.startsWith('/api/'), pattern).toBe(false)
})

test('every example of a body is one that its own shape takes', () => {
  for (const one of operations.filter(({ method }) => method === 'POST')) {
    if (one.bodyAsDescribed) expect(parseDocument(one.example), one.id).toMatchObject({ ok: true })
    else expect((one.body as z.ZodType).safeParse(one.example).error, one.id).toBeUndefined()
  }
})

describe('real answers are what the description says', () => {
  /** The shape as a program reads it in the description, made into a validator that knows nothing of ours. */
  const validator = (path: string, method: string, status: string) => {
    const answer = document.paths[path]?.[method]?.responses[status]
    if (!answer || !('content' in answer)) throw new Error(`${path} does not say what it answers`)
    const root = { ...answer.content['application/json']?.schema, $defs: document.components.schemas }
    return z.fromJSONSchema(JSON.parse(JSON.stringify(root).replaceAll('#/components/schemas/', '#/$defs/')))
  }
  const shapeOf = (method: string, path: string) => {
    const one = operations.find((other) => other.method === method && `/api${other.path.replace(':id', '{id}')}` === path)
    if (!(one?.answer instanceof z.ZodType)) throw new Error(`${path} has no shape`)
    return one.answer
  }
  const cases = (ids: Awaited<ReturnType<typeof idsOf>>) =>
    [
      ['/api/vehicles', '/api/vehicles'],
      ['/api/vehicles/{id}', `/api/vehicles/${ids.vehicle}`],
      ...book.vehicles.map((id) => ['/api/vehicles/{id}/document', `/api/vehicles/${id}/document`]),
      ['/api/vehicles/{id}/document', `/api/vehicles/${ids.vehicle}/document?on=2023-05-10`],
      ...book.vehicles.map((id) => ['/api/vehicles/{id}/findings', `/api/vehicles/${id}/findings?limit=100`]),
      ['/api/vehicles/{id}/findings', `/api/vehicles/${ids.vehicle}/findings?on=2023-05-10&verdict=over`],
      ...book.vehicles.map((id) => ['/api/vehicles/{id}/entries', `/api/vehicles/${id}/entries?limit=100`]),
      ['/api/entries/{id}', `/api/entries/${ids.entry}`],
      ['/api/vehicles/{id}/readings', `/api/vehicles/${ids.vehicle}/readings`],
      ['/api/vehicles/{id}/photos', `/api/vehicles/${ids.vehicle}/photos`],
      ['/api/parts', '/api/parts?limit=100'],
      ['/api/parts/{id}', `/api/parts/${ids.part}`],
    ] as const

  test('of everything that is asked for', async () => {
    const asked = cases(await idsOf(book))
    for (const [path, url] of asked as readonly (readonly [string, string])[]) {
      const reply = await book.ask(url)
      expect(reply.statusCode, `${url} ${reply.body.slice(0, 300)}`).toBe(200)
      expect(shapeOf('GET', path).safeParse(reply.json()).error, url).toBeUndefined()
      expect(validator(path, 'get', '200').safeParse(reply.json()).error, url).toBeUndefined()
      const { items } = reply.json() as { items?: unknown[] }
      if (items) expect(items.length, url).toBeGreaterThan(0)
    }
    const strange = { ...(await book.ask(`/api/parts/${(await idsOf(book)).part}`)).json(), more: 1 }
    expect(validator('/api/parts/{id}', 'get', '200').safeParse(strange).success).toBe(false)
  })

  test('of everything that is told, and of what is refused', async () => {
    const ids = await idsOf(book)
    const told = [
      ['/api/vehicles', '/api/vehicles', { name: 'Oak', systemVoltage_V: 24, notes: 'Grey.' }],
      ['/api/vehicles/{id}/entries', `/api/vehicles/${ids.vehicle}/entries`, ENTRY],
      ['/api/parts', '/api/parts', { kind: 'fuse', name: 'Slow fuse', ratings: { rated_A: 10 } }],
      [
        '/api/parts/{id}/revisions',
        `/api/parts/${ids.part}/revisions`,
        await book.ask(`/api/parts/${ids.part}`).then((reply) => {
          const { name, ratings, evidence } = reply.json() as Record<string, unknown>
          return { name, ratings, evidence, notes: 'Said anew.' }
        }),
      ],
      ['/api/checks', '/api/checks', operations.find(({ id }) => id === 'checkDocument')?.example],
    ] as const
    for (const [path, url, body] of told) {
      const reply = await book.tell(url, body)
      const status = path === '/api/checks' ? '200' : '201'
      expect(String(reply.statusCode), `${url} ${reply.body.slice(0, 300)}`).toBe(status)
      expect(shapeOf('POST', path).safeParse(reply.json()).error, url).toBeUndefined()
      expect(validator(path, 'post', status).safeParse(reply.json()).error, url).toBeUndefined()
    }
    for (const reply of [
      await book.tell('/api/vehicles', {}),
      await book.ask('/api/nothing'),
      await book.app.inject('/api/vehicles'),
      await book.tell('/api/vehicles', '{'),
      await book.tell('/api/vehicles', { name: 'Oak', systemVoltage_V: 12 }, { as: 'read' }),
    ]) {
      expect(reply.headers['content-type']).toBe('application/problem+json; charset=utf-8')
      const problem = problemSchema.parse(reply.json())
      expect(problem.status).toBe(reply.statusCode)
      expect(document.components.responses.Problem).toBeTypeOf('object')
      const guide = (await book.get('/api-guide')).body
      expect(guide).toContain(`id="${problem.type.split('#')[1]}"`)
    }
  })
})

test('the document of a vehicle, sent to be checked, is judged as the vehicle is', async () => {
  const V = `/api/vehicles/${book.vehicle}`
  const sent = await book.tell('/api/checks', (await book.ask(`${V}/document`)).body, { as: 'read' })
  const told = (await book.ask(`${V}/findings?limit=100`)).json() as { items: { rule: string; component: string; verdict: string }[] }
  const found = (sent.json() as typeof told & { findings: typeof told.items }).findings
  const name = (one: (typeof told.items)[number]) => `${one.rule} ${one.component} ${one.verdict}`
  expect(told.items.length).toBe(100)
  expect(found.slice(0, 100).map(name)).toEqual(told.items.map(name))
})

test('the guide tells every operation, and the session’s copy is the very same', async () => {
  const guide = (await book.get('/api-guide')).body
  for (const one of operations) expect(guide).toContain(`<section id="${one.id}">`)
  expect((await book.get('/api-guide/openapi.json')).json()).toEqual(JSON.parse(JSON.stringify(apiDocument())))
  for (const url of ['/api-guide', '/api-guide/openapi.json']) expect((await book.app.inject(url)).headers.location).toMatch(/^\/login/)
  expect((await book.app.inject('/api/openapi.json')).statusCode).toBe(401)
})
