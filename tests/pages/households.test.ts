/** B3: what belongs to another household answers as what is not there, wherever its id is given, and nothing of it changes or is told. */
import type { FastifyInstance } from 'fastify'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { registerPages } from '../../server/pages/index.ts'
import { addressesOf, type Book, openBook, PASSWORD } from './book.ts'
import { visitor } from './visitor.ts'

const UUID = /[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}/
const NOBODYS = '01900000-0000-7000-8000-00000000dead'
const OTHERS = { household: '01900000-0000-7000-8000-0000000000a1', person: '01900000-0000-7000-8000-0000000000a2' }
let book: Book
let addresses: Readonly<Record<string, readonly string[]>>
/** an owner too, of another household of the same installation, with nothing in it */
let stranger: ReturnType<typeof visitor>

beforeAll(async () => {
  book = await openBook()
  addresses = await addressesOf(book)
  const { $client } = book.db
  $client.prepare("INSERT INTO households (id, recorded_at) VALUES (?, '2026-01-01')").run(OTHERS.household)
  $client
    .prepare(
      "INSERT INTO people (id, household_id, name, name_folded, password_hash, recorded_at) SELECT ?, ?, 'Stranger', 'stranger', password_hash, '2026-01-01' FROM people LIMIT 1",
    )
    .run(OTHERS.person, OTHERS.household)
  stranger = visitor(book.app)
  expect((await stranger.signIn('Stranger', PASSWORD)).statusCode).toBe(303)
})
afterAll(() => book.close())

/** All but what is different in every answer: tokens, the number of the request, and the address itself. */
const plain = (body: string) => body.replaceAll(new RegExp(UUID, 'g'), '').replace(/value="[^"]*"|\b[0-9a-f]{12}\b/g, '')
const rows = () => {
  const { $client } = book.db
  const tables = $client
    .prepare(
      "SELECT m.name FROM sqlite_master m, pragma_table_info(m.name) c WHERE m.type = 'table' AND c.name = 'household_id' ORDER BY 1",
    )
    .pluck()
    .all() as string[]
  const own = tables.filter((name) => !['security_events', 'sessions', 'known_devices'].includes(name))
  return own.map((name) => [name, JSON.stringify($client.prepare(`SELECT * FROM ${name} WHERE household_id <> ?`).all(OTHERS.household))])
}

test('B3: in the path of every page: not found, in the words for what never was', async () => {
  const withIds = Object.values(addresses).flatMap((those) =>
    those.filter((address) => UUID.test(address.split('?')[0] as string)).slice(0, 2),
  )
  expect(withIds.length).toBeGreaterThan(30)
  for (const address of withIds) {
    const [theirs, nobodys] = [await stranger.get(address), await stranger.get(address.replace(UUID, NOBODYS))]
    expect(theirs.statusCode, address).toBe(404)
    expect(plain(theirs.body), address).toBe(plain(nobodys.body))
  }
})

test('B3: in a photo’s and an archive’s own addresses', async () => {
  const [photo = '', vehicle = ''] = [addresses['/photos/:id']?.[0], addresses['/vehicles/:id']?.[0]]
  for (const address of [
    ...['thumbnail', 'picture', 'original'].map((one) => `${photo}/${one}`),
    `${vehicle}/archive/download`,
    `${vehicle}/document.json`,
    `${vehicle}/entries/part-choices?q=relay`,
  ]) {
    expect((await book.get(address)).statusCode, address).toBe(200)
    expect((await stranger.get(address)).statusCode, address).toBe(404)
  }
})

test('B3: in a query, in search, in lists and counts: nothing of it is told', async () => {
  const [vehicle = '', part = ''] = [addresses['/vehicles/:id']?.[0], addresses['/parts/:id']?.[0]].map(
    (one) => one?.split('/')[2] as string,
  )
  for (const address of [
    '/',
    '/shelf',
    '/due',
    '/feeds',
    '/costs',
    '/trash',
    '/people',
    '/security',
    '/tokens',
    '/search?q=relay',
    `/search?q=fuse&vehicle=${vehicle}`,
    `/parts/compare?part=${part}&part=${part}`,
    `/decisions/new?vehicle=${vehicle}&part=${part}`,
    `/shelf/new?like=${part}`,
  ]) {
    const page = (await stranger.get(address)).body
    expect(page, address).not.toMatch(/Bramble|Wren|Anvil/)
    expect(page, address).not.toContain('>Owner<')
    expect(plain(page), address).toBe(plain((await stranger.get(address.replaceAll(new RegExp(UUID, 'g'), NOBODYS))).body))
  }
})

describe('B3: in what is sent', () => {
  const posts: string[] = []
  registerPages({ get: () => {}, post: (path: string) => posts.push(path), config: {}, backups: '' } as unknown as FastifyInstance)
  const idsIn = (pattern: string) =>
    Object.entries(addresses)
      .find(([known]) => known.startsWith(`/${pattern.split('/')[1]}/:id`))?.[1][0]
      ?.split('/')[2] as string

  test('to every address that writes: not found, and not a row of theirs is another', async () => {
    const before = rows()
    const tried = posts.filter((path) => /^\/(vehicles|entries|parts|photos)\/:id/.test(path))
    expect(tried.length).toBeGreaterThan(25)
    for (const path of tried) {
      const send = (id: string) =>
        stranger.post(path.replace(':id', id).replace(/:(key|file)/, 'r7'), {
          on: '2026-11-01',
          title: 'Mine',
          text: 'x',
          name: 'x',
          do: 'save',
        })
      const [theirs, nobodys] = [await send(idsIn(path)), await send(NOBODYS)]
      // A form for files that holds none is refused before anything is looked up.
      expect(theirs.statusCode, path).toBe(path.endsWith('/photos') ? 422 : 404)
      expect([theirs.statusCode, plain(theirs.body)], path).toEqual([nobodys.statusCode, plain(nobodys.body)])
    }
    expect(rows()).toEqual(before)
  })
})
