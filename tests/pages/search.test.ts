import fc from 'fast-check'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { createPart } from '../../server/records/parts.ts'
import { household } from '../records/book.ts'
import { type Book, openBook } from './book.ts'
import { faultsOf, textOf } from './markup.ts'

let book: Book
beforeAll(async () => {
  book = await openBook()
})
afterAll(() => book.close())

const ask = (q: string, more = '') => book.get(`/search?q=${encodeURIComponent(q)}${more}`)

describe('the search page', () => {
  test('finds entries, components, parts, says what each is and announces how many', async () => {
    const reply = await ask('relay')
    expect(reply.statusCode).toBe(200)
    expect(reply.body).toMatch(/role="status">\d+ found/)
    for (const kind of ['Component', 'Entry', 'Part']) expect(reply.body + (await ask('relay', '&page=2')).body).toContain(`>${kind}`)
    expect(reply.body).toContain('<mark>')
    expect(faultsOf(reply.body)).toEqual([])
  })

  test('what is sought is marked and everything is escaped', async () => {
    const made = createPart(book.db, book.clock, book.actor, { kind: 'fuse', name: '<script>alert(1)</script> & fuse', ratings: {} })
    expect(made.ok).toBe(true)
    const { body } = await ask('alert')
    expect(body).toContain('&lt;script&gt;<mark>alert</mark>(1)&lt;/script&gt; &amp; fuse')
    expect(body).not.toContain('<script>alert')
  })

  test('the box keeps what was typed, the choices and the filter', async () => {
    const { body } = await ask('"relay" <b>', `&kind=part&vehicle=${book.vehicles[0]}`)
    expect(body).toContain('value="&quot;relay&quot; &lt;b&gt;"')
    expect(body).toMatch(/value="part" selected/)
    expect(body).toContain(`value="${book.vehicles[0]}" selected`)
  })

  test('nothing asked, and nothing found, say so', async () => {
    expect(textOf((await book.get('/search')).body)).toContain('are found here')
    expect(textOf((await ask('zzzz')).body)).toContain('Nothing found')
  })

  test('is one step from every page', async () => {
    for (const page of ['/', '/shelf', `/vehicles/${book.vehicles[0]}`]) expect((await book.get(page)).body).toContain('href="/search"')
  })
})

describe('B24: whatever is typed is sought as it stands, and is never an error', () => {
  const typed = [
    '"',
    "'",
    '*',
    '(',
    ')',
    'a AND',
    'OR',
    'NOT',
    'NEAR(',
    'NEAR(a b, 2)',
    '-x',
    'col:x',
    'title:relay',
    '10-32',
    '%',
    '_',
    '\\',
    '',
    ' ',
    '^',
    '+',
    '{a b}',
    '""',
    '"""',
    'a"b',
    'a*b',
    "O'Brien",
    'M8x1.25',
    '2.5 mm²',
    'mm2',
    '\u0000',
    'a\u0000b',
    '\u0301',
    '😀',
    '\u202eabc',
    '＊',
    '١٢',
    'ß',
    '·',
    '²',
    'ⅷ',
    '𝟘',
    '\ufdd0\ufdd1',
    'x'.repeat(10_000),
    Array.from({ length: 1000 }, (_, at) => `w${at}`).join(' '),
    '" '.repeat(3000),
    '\u{1F1E6}\u{20000}',
  ]
  test.each(typed.map((one) => [one.length > 30 ? `${one.slice(0, 20)}… (${one.length})` : JSON.stringify(one), one]))(
    '%s',
    async (_, one) => {
      for (const more of ['', '&kind=entry', `&vehicle=${book.vehicles[0]}&kind=component`]) {
        const reply = await ask(one, more)
        expect(reply.statusCode).toBe(200)
        expect(faultsOf(reply.body)).toEqual([])
      }
      const jump = await book.get(`/?find=${encodeURIComponent(one)}`)
      expect([200, 303]).toContain(jump.statusCode)
    },
  )

  test('any text at all', async () => {
    await fc.assert(
      fc.asyncProperty(fc.string({ unit: 'binary', maxLength: 60 }), async (text) => {
        const reply = await ask(text)
        expect(reply.statusCode).toBe(200)
        expect((await book.get(`/?find=${encodeURIComponent(text)}`)).statusCode).toBeLessThan(400)
      }),
      { numRuns: 300 },
    )
  })

  test('any text made of what a query language might mean', async () => {
    const piece = fc.constantFrom(
      '"',
      '*',
      '(',
      ')',
      ' ',
      'AND',
      'OR',
      'NOT',
      'NEAR',
      ':',
      '-',
      '^',
      '{',
      '}',
      '+',
      ',',
      'relay',
      "'",
      '\\',
      '\u0000',
      ';',
      '--',
      '/*',
    )
    await fc.assert(
      fc.asyncProperty(fc.array(piece, { maxLength: 12 }), async (pieces) => {
        expect((await ask(pieces.join(''))).statusCode).toBe(200)
      }),
      { numRuns: 300 },
    )
  })
})

describe('B25: an address with a page or a choice that is not one', () => {
  const odd = [
    'page=-1',
    'page=0',
    'page=1e9',
    'page=1e999',
    'page=NaN',
    'page=2&page=3',
    'page[]=2',
    'page[a]=2',
    'page=1.5',
    'page=0x10',
    'page=',
    'size=1000000',
    'sort=id;drop',
  ]
  test.each(odd)('%s: the nearest page there is', async (query) => {
    const V = `/vehicles/${book.vehicles[0]}`
    for (const list of ['/?', '/shelf?', `${V}/journal?`, `${V}/components?`, `${V}/findings?`, '/search?q=relay&', '/search?']) {
      const reply = await book.get(`${list}${query}`)
      expect(reply.statusCode, `${list}${query}`).toBe(200)
      expect(faultsOf(reply.body), `${list}${query}`).toEqual([])
    }
  })
  test.each([
    'q=a&q=b',
    'q[]=a',
    'q[a]=b',
    'kind=nothing',
    'kind=entry&kind=part',
    'vehicle=x',
    'vehicle=a&vehicle=b',
    'contains=a&contains=b',
    'contains[]=a',
    'find=a&find=b',
    'find[]=a',
  ])('%s is left out, or said to be unknown', async (query) => {
    for (const list of ['/search', '/', '/shelf', `/vehicles/${book.vehicles[0]}/journal`, `/vehicles/${book.vehicles[0]}/components`])
      expect((await book.get(`${list}?${query}`)).statusCode, `${list}?${query}`).toBe(200)
  })
  test('the last page is what a page past it answers', async () => {
    const page = (n: string) => book.get(`/search?q=re&page=${n}`)
    const last = /page (\d+) of \1/.exec((await page('1e9')).body)
    expect(Number(last?.[1])).toBeGreaterThan(1)
  })
})

describe('the box on the first page', () => {
  test('goes straight to the one component of that name, key or place', async () => {
    const reply = await book.get('/?find=R7')
    expect(reply.statusCode).toBe(303)
    expect(reply.headers.location).toBe(`/vehicles/${book.vehicles[0]}/components/r7`)
  })
  test('asks which, where several are called that', async () => {
    const { body, statusCode } = await book.get('/?find=battery')
    expect(statusCode).toBe(200)
    expect(textOf(body)).toContain('Which one?')
  })
  test('goes to the search page for anything else', async () => {
    const reply = await book.get(`/?find=${encodeURIComponent('ground corro & more')}`)
    expect(reply.statusCode).toBe(303)
    expect(new URL(reply.headers.location as string, 'http://x').searchParams.get('q')).toBe('ground corro & more')
  })
})

test('B3: what another household holds is never found, counted or jumped to', async () => {
  const stranger = household(book.db, book.clock, 'Stranger')
  expect(createPart(book.db, book.clock, stranger, { kind: 'fuse', name: 'Quillwort fuse', ratings: {} }).ok).toBe(true)
  const rows = book.db.$client.prepare("SELECT count(*) FROM search_rows WHERE title LIKE 'Quillwort%'").pluck().get()
  expect(rows).toBe(1)
  const nothing = (await ask('zzzz')).body.replaceAll('zzzz', '').replaceAll(/value="[^"]{43}"/g, '')
  const theirs = (await ask('quillwort')).body.replaceAll('quillwort', '').replaceAll(/value="[^"]{43}"/g, '')
  expect(theirs).toBe(nothing)
})
