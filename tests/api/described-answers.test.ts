/** Every answer that an operation gives stands in its description, with its headers; and nothing stands there that it never gives. */
import { afterAll, beforeAll, expect, test } from 'vitest'
import type { Answered, ApiDocument } from '../../server/api/description.ts'
import type { Operation } from '../../server/api/operation.ts'
import { operations } from '../../server/api/operations.ts'
import { forgetDamage } from '../../server/records/damage.ts'
import { newId } from '../../server/records/ids.ts'
import { type ApiBook, ENTRY, idsOf, openBook } from './book.ts'

type Reply = Awaited<ReturnType<ApiBook['ask']>>
type Sent = { readonly as?: 'read' | 'write'; readonly headers?: Record<string, string>; readonly body?: unknown; readonly query?: string }

/** Headers that say something to who reads the answer, besides those of every answer alike. */
const TELLING = [
  'idempotency-replayed',
  'retry-after',
  'www-authenticate',
  'accept-encoding',
  'content-disposition',
  'allow',
  'link',
  'location',
]

let book: ApiBook
let ids: Awaited<ReturnType<typeof idsOf>>
let document: ApiDocument
beforeAll(async () => {
  book = await openBook()
  ids = await idsOf(book)
  document = (await book.ask('/api/openapi.json')).json() as ApiDocument
})
afterAll(() => book.close())

/** The operation that tells the description, which is in no list. */
const DESCRIPTION = { id: 'readDescription', method: 'GET', path: '/openapi.json', writes: false, status: 200 } as unknown as Operation
const all = [DESCRIPTION, ...operations]
const ownId = ({ path }: Operation) =>
  path.startsWith('/vehicles') ? ids.vehicle : path.startsWith('/entries') ? ids.entry : path.startsWith('/parts') ? ids.part : ids.photo

function send(one: Operation, given: Sent & { readonly id?: string } = {}): Promise<Reply> {
  const { as = 'write', headers, body = one.example, query = '', id = ownId(one) } = given
  const url = `/api${one.path.replace(':id', id)}${query}`
  return one.method === 'GET'
    ? book.ask(url, { as, ...(headers && { headers }) })
    : book.tell(url, body, { as, ...(headers && { headers }) })
}

function answers(one: Operation): Readonly<Record<string, Answered>> {
  const path = `/api${one.path.replace(':id', '{id}')}`
  const told = document.paths[path]?.[one.method.toLowerCase()]?.responses ?? {}
  return Object.fromEntries(
    Object.entries(told).flatMap(([status, answer]) =>
      status === 'default'
        ? []
        : [[status, '$ref' in answer ? (document.components.responses[answer.$ref.split('/').at(-1) as string] as Answered) : answer]],
    ),
  )
}

const codesTold = (one: Operation) =>
  Object.entries(answers(one))
    .filter(([status]) => Number(status) >= 400)
    .flatMap(([status, { description }]) => [...description.matchAll(/([a-z-]+): /g)].map((found) => `${status} ${found[1]}`))
    .sort()

/** What is answered is described; its status and code. */
function described(one: Operation, reply: Reply): string {
  const at = `${one.id} ${reply.statusCode} ${reply.body.slice(0, 200)}`
  const answer = answers(one)[String(reply.statusCode)]
  expect(answer, at).toBeDefined()
  const type = String(reply.headers['content-type']).split(';')[0] as string
  expect(Object.keys(answer?.content ?? {}), at).toContain(type)
  const told = Object.keys(answer?.headers ?? {})
  for (const header of TELLING) if (reply.headers[header] !== undefined) expect(told, `${at} ${header}`).toContain(header)
  if (reply.statusCode < 400) return String(reply.statusCode)
  const code = `${reply.statusCode} ${(reply.json() as { type: string }).type.split('#')[1]}`
  expect(codesTold(one), at).toContain(code)
  return code
}

/** Meanwhile every statement for which `isMeant` holds fails with this code of the database, or, without one, as a fault of ours. */
async function failing(code: string | null, isMeant: (sql: string) => boolean, work: () => Promise<Reply>): Promise<Reply> {
  const { $client } = book.db
  const prepare = $client.prepare
  $client.prepare = ((sql: string) => {
    if (isMeant(sql)) throw Object.assign(new Error('tried'), code === null ? {} : { code })
    return prepare.call($client, sql)
  }) as typeof prepare
  try {
    return await work()
  } finally {
    $client.prepare = prepare
  }
}

/** A body that is taken, another one, and, where what is recorded can stand in the way, one that it stands in the way of. */
async function bodiesOf(one: Operation): Promise<{ readonly taken: unknown; readonly other: unknown; readonly clashing?: unknown }> {
  if (one.id === 'addEntry') {
    const removed = { kind: 'removed', component: 'not-there', fate: 'bin' }
    return { taken: ENTRY, other: { ...ENTRY, title: 'Another' }, clashing: { ...ENTRY, changes: [removed] } }
  }
  // Said anew or taken back, a version is not the latest any more.
  if (one.id === 'correctEntry') {
    const taken = { ...ENTRY, title: 'Said anew' }
    return { taken, other: ENTRY, clashing: taken }
  }
  if (one.id === 'withdrawEntry') return { taken: one.example, other: {}, clashing: one.example }
  if (one.id === 'revisePart') {
    const { name, ratings, revision } = (await book.ask(`/api/parts/${ids.part}`)).json() as Record<string, unknown>
    const [taken, other] = [
      { name, ratings },
      { name, ratings, notes: 'Another' },
    ]
    return { taken, other, clashing: { ...other, basedOn: revision } }
  }
  return { taken: one.example, other: { ...(one.example as object), name: 'Another' } }
}

/** For what can be done once to each entry. */
async function renewEntry(): Promise<void> {
  ids.entry = ((await book.tell(`/api/vehicles/${ids.vehicle}/entries`, ENTRY)).json() as { id: string }).id
}

async function answersOf(one: Operation): Promise<ReadonlySet<string>> {
  const seen = new Set<string>()
  const sees = async (reply: Promise<Reply>, expected: string) => {
    const found = described(one, await reply)
    expect(found, one.id).toBe(expected)
    seen.add(found)
    return (await reply).headers
  }
  await renewEntry()
  const { taken: body, other, clashing } = await bodiesOf(one)
  const keyed = { 'idempotency-key': `one-${one.id}` }
  expect((await sees(send(one, { body, headers: keyed }), String(one.status)))['idempotency-replayed']).toBeUndefined()
  if (one.isOnce) {
    expect((await sees(send(one, { body, headers: keyed }), String(one.status)))['idempotency-replayed']).toBe('true')
    await sees(send(one, { body: other, headers: keyed }), '422 key-used')
  }
  const url = `/api${one.path.replace(':id', ownId(one))}`
  expect(await sees(book.app.inject({ method: one.method, url }), '401 no-token')).toHaveProperty('www-authenticate')
  await sees(send(one, { query: `?token=${book.tokens.read}` }), '400 token-in-address')
  if (one !== DESCRIPTION) await sees(send(one, { body, query: '?odd=1' }), '422 not-valid')
  if (one.path.includes(':id')) {
    await sees(send(one, { body, id: newId(book.clock) }), '404 not-found')
    await sees(send(one, { body, id: 'a'.repeat(3000) }), '414 address-too-long')
    await sees(send(one, { body, id: '%zz' }), '400 address-not-read')
  }
  if (one.method === 'POST') {
    await sees(send(one, { body: '{' }), '400 not-json')
    await sees(send(one, { body: `"${'a'.repeat(2 * 1024 * 1024)}"` }), '413 too-large')
    await sees(send(one, { body, headers: { 'content-type': 'text/plain' } }), '415 not-taken')
    expect(await sees(send(one, { body, headers: { 'content-encoding': 'gzip' } }), '415 not-taken')).toHaveProperty('accept-encoding')
  }
  if (clashing) await sees(send(one, { body: clashing }), '409 not-possible')
  const any = () => true
  await sees(
    failing(null, any, () => send(one, { body })),
    '500 not-our-day',
  )
  expect(
    await sees(
      failing('SQLITE_BUSY', any, () => send(one, { body })),
      '503 in-use',
    ),
  ).toHaveProperty('retry-after')
  await sees(
    failing('SQLITE_CORRUPT', any, () => send(one, { body })),
    '503 damaged',
  )
  if (one.writes) {
    expect(await sees(send(one, { body }), '503 nothing-written')).toHaveProperty('retry-after')
    await sees(send(one, { body, as: 'read' }), '403 token-reads-only')
  }
  forgetDamage(book.db)
  await renewEntry()
  if (one.writes)
    await sees(
      failing(
        'SQLITE_FULL',
        (sql) => /^insert/i.test(sql),
        () => send(one, { body }),
      ),
      '507 no-room',
    )
  if (one.id === 'readPicture')
    await sees(
      failing(
        'SQLITE_FULL',
        (sql) => sql.includes('photos'),
        () => send(one),
      ),
      '507 no-room',
    )
  return seen
}

test('each status, problem and header of every operation is described, and nothing is that is never answered', async () => {
  expect(all.length).toBe(20)
  for (const one of all) {
    const seen = await answersOf(one)
    expect([...seen].filter((code) => code.includes(' ')).sort(), one.id).toEqual(codesTold(one))
    expect(Object.keys(answers(one)).filter((status) => Number(status) < 400)).toEqual([String(one.status)])
  }
})
