import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { addressesOf, type Book, NO_PAGES, openBook, pagePatterns } from './book.ts'
import { faultsOf } from './markup.ts'

let book: Book
let addresses: Readonly<Record<string, readonly string[]>>

beforeAll(async () => {
  book = await openBook()
  addresses = await addressesOf(book)
})
afterAll(() => book.close())

test('every page of the table has an address to walk, and no address is of a page that is gone', () => {
  const pages = pagePatterns().filter((pattern) => !NO_PAGES.includes(pattern))
  expect(Object.keys(addresses).sort()).toEqual([...pages].sort())
  for (const [pattern, those] of Object.entries(addresses)) expect(those.length, pattern).toBeGreaterThan(0)
})

describe('every page answers with sound markup: one heading, a language, a title, labelled fields, nothing inline', () => {
  test.each(pagePatterns().filter((pattern) => !NO_PAGES.includes(pattern)))('%s', async (pattern) => {
    for (const address of addresses[pattern] ?? []) {
      const reply = await book.get(address)
      expect(reply.statusCode, address).toBe(200)
      expect(faultsOf(reply.body), address).toEqual([])
    }
  })

  test('the door, and a page that is not there', async () => {
    expect(faultsOf((await book.app.inject('/login')).body)).toEqual([])
    const lost = await book.get('/nothing-here')
    expect(lost.statusCode).toBe(404)
    expect(faultsOf(lost.body)).toEqual([])
  })

  test('a household with nothing in it yet', async () => {
    const empty = await openBook({ demo: false })
    const made = await empty.post('/vehicles', { name: 'Fern', systemVoltage_V: '12' })
    const vehicle = made.headers.location as string
    for (const address of [
      '/',
      '/shelf',
      vehicle,
      ...['journal', 'findings', 'components', 'fuse-box', 'entries/new'].map((one) => `${vehicle}/${one}`),
    ]) {
      const reply = await empty.get(address)
      expect(reply.statusCode, address).toBe(200)
      expect(faultsOf(reply.body), address).toEqual([])
    }
    expect((await empty.get(vehicle)).body).toContain('walk the fuse box')
    await empty.close()
  })
})

test('the reader of markup sees what is wrong', () => {
  expect(faultsOf('<html><h1>a</h1><h1 style="x">b</h1><input name="n"><p id="p"></p><p id="p"></main>')).toEqual(
    expect.arrayContaining([
      'no doctype',
      'no language',
      'no title',
      '2 h1',
      'no main',
      'the id p twice',
      'style= on h1',
      'no label for n',
    ]),
  )
})
