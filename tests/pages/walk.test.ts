import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { addressesOf, type Book, NO_PAGES, openBook, pagePatterns } from './book.ts'
import { faultsOf, tagsOf } from './markup.ts'

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

test('a password is masked as it is typed and may be filled in, and signing out is one press away', async () => {
  // A preview of a build page is as strangers see it: no account is in it.
  const own = Object.entries(addresses).filter(([pattern]) => !pattern.includes('/preview'))
  expect(own.length).toBeGreaterThan(40)
  let passwords = 0
  for (const [, [address = '']] of own) {
    const { body } = await book.get(address)
    const tags = tagsOf(body)
    expect(tags.filter(({ name, attributes }) => name === 'form' && attributes.get('action') === '/sessions/end').length, address).toBe(1)
    passwords += soundPasswords(body, address)
  }
  passwords += soundPasswords((await book.app.inject('/login')).body, '/login')
  expect(passwords).toBeGreaterThanOrEqual(4)
})

/** Neither readonly nor kept from password managers (ASVS 6.2.6, 6.2.7). Answers how many there are. */
function soundPasswords(body: string, address: string): number {
  const fields = tagsOf(body).filter(
    ({ name, attributes }) => name === 'input' && /password/.test(`${attributes.get('type')} ${attributes.get('autocomplete')}`),
  )
  for (const { attributes } of fields) {
    expect([attributes.get('type'), attributes.has('readonly')], address).toEqual(['password', false])
    expect(['current-password', 'new-password'], address).toContain(attributes.get('autocomplete'))
  }
  return fields.length
}

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
