/** Whatever is sent, it is never our fault, and what is refused leaves nothing behind. */
import fc from 'fast-check'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { z } from 'zod'
import { operations } from '../../server/api/operations.ts'
import { problemSchema } from '../../server/api/problem.ts'
import { changeKinds } from '../../server/records/changes/index.ts'
import { rowCounts } from '../records/book.ts'
import { type ApiBook, ENTRY, idsOf, openBook } from './book.ts'

let book: ApiBook
let ids: Awaited<ReturnType<typeof idsOf>>
beforeAll(async () => {
  book = await openBook()
  ids = await idsOf(book)
})
afterAll(() => book.close())

const posts = operations.filter(({ method }) => method === 'POST')
const idFor = (path: string) => (path.startsWith('/parts') ? ids.part : path.startsWith('/entries') ? ids.entry : ids.vehicle)
const placed = (path: string) => `/api${path.replace(':id', idFor(path))}`
const RUNS = { numRuns: 200, seed: 20261125 } as const
const value = fc.oneof(
  fc.jsonValue({ maxDepth: 4, noUnicodeString: false }),
  fc.double(),
  fc.constantFrom('', 'r7', 'r7:87', '2026-11-20', '2026-02-30', '0190a000-0000-7000-8000-000000000001', null, -0, 1e308, 2 ** 53),
)

async function holds(url: string, body: string): Promise<void> {
  const before = rowCounts(book.db)
  const reply = await book.tell(url, body)
  expect(reply.statusCode, `${url} ${body.slice(0, 300)} ${reply.body.slice(0, 300)}`).toBeLessThan(500)
  if (reply.statusCode < 300) return
  expect(problemSchema.parse(reply.json()).status).toBe(reply.statusCode)
  expect(rowCounts(book.db)).toEqual(before)
}

describe.each(posts.map(({ path, example }) => [path, example] as const))('%s', (path, example) => {
  test('any JSON at all', async () => {
    await fc.assert(
      fc.asyncProperty(value, (body) => holds(placed(path), JSON.stringify(body))),
      RUNS,
    )
  })

  test('the example with any field put to anything', async () => {
    const fields = Object.keys(example as object)
    await fc.assert(
      fc.asyncProperty(fc.constantFrom(...fields), value, (field, other) =>
        holds(placed(path), JSON.stringify({ ...(example as object), [field]: other })),
      ),
      RUNS,
    )
  })
})

test('an entry with any change of any kind, its fields put to anything', async () => {
  const change = fc.constantFrom(...changeKinds).chain((kind) => {
    const shape = (kind.payload as unknown as z.ZodObject).shape
    const near = fc.oneof(
      value,
      fc.constantFrom('block', 'bay', 'main-lead', ids.part, 1, 0.5),
      fc.constant({ key: 'x', name: 'X', part: ids.part }),
    )
    return fc.record(Object.fromEntries(Object.keys(shape).map((name) => [name, near])), { requiredKeys: [] }).map((fields) => ({
      kind: kind.kind,
      ...fields,
    }))
  })
  await fc.assert(
    fc.asyncProperty(fc.array(change, { minLength: 1, maxLength: 3 }), (changes) =>
      holds(`/api/vehicles/${ids.vehicle}/entries`, JSON.stringify({ ...ENTRY, changes })),
    ),
    RUNS,
  )
})

test('any text at all, and any query', async () => {
  await fc.assert(
    fc.asyncProperty(fc.string({ unit: 'binary', maxLength: 200 }), async (text) => {
      for (const { path } of posts) await holds(placed(path), text)
      const asked = await book.ask(`/api/parts?contains=${encodeURIComponent(text)}`)
      expect(asked.statusCode).toBeLessThan(500)
    }),
    { ...RUNS, numRuns: 60 },
  )
})
