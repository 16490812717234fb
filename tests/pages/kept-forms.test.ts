import { randomUUID } from 'node:crypto'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { createOwner } from '../../server/records/people.ts'
import { type Book, openBook, PASSWORD, tokenIn } from './book.ts'
import { faultsOf, insideOf, tagsOf } from './markup.ts'

let book: Book
let V = ''
const FORM = 'application/x-www-form-urlencoded'

beforeAll(async () => {
  book = await openBook()
  V = `/vehicles/${book.vehicles[0]}`
})
afterAll(() => book.close())

/** A browser with its own cookies and no session. */
function visitor() {
  const jar = new Map<string, string>()
  const ask = async (url: string, fields?: Record<string, string> | string, headers: Record<string, string> = {}) => {
    const reply = await book.app.inject({
      ...{ method: fields === undefined ? 'GET' : 'POST', url },
      headers: {
        cookie: [...jar].map(([name, value]) => `${name}=${value}`).join('; '),
        ...(fields ? { 'content-type': FORM } : {}),
        ...headers,
      },
      ...(fields === undefined ? {} : { payload: new URLSearchParams(fields).toString() }),
    })
    for (const line of [reply.headers['set-cookie'] ?? []].flat()) {
      const [name = '', value = ''] = (line.split(';')[0] as string).split(/=(.*)/)
      if (value === '') jar.delete(name)
      else jar.set(name, value)
    }
    return reply
  }
  return { jar, ask }
}
function hidden(body: string): Record<string, string> {
  return Object.fromEntries(
    tagsOf(body)
      .filter((tag) => tag.name === 'input' && tag.attributes.get('type') === 'hidden')
      .map((tag) => [tag.attributes.get('name') as string, plain(tag.attributes.get('value') ?? '')]),
  )
}
function plain(text: string): string {
  return text.replaceAll('&quot;', '"').replaceAll('&#39;', "'").replaceAll('&lt;', '<').replaceAll('&gt;', '>').replaceAll('&amp;', '&')
}
async function signedIn() {
  const browser = visitor()
  const door = await browser.ask('/login')
  await browser.ask('/sessions', { _token: tokenIn(door.body), name: 'Owner', password: PASSWORD })
  return browser
}
const counts = () => Number(book.db.$client.prepare('SELECT count(*) FROM entries').pluck().get())
const WORDS = 'Relay clicked, so <b>"swapped"</b> & tested.\nSecond line.'
const typed = (form: string, more: Record<string, string> = {}) => ({
  ...hidden(form),
  ...{ verb: 'serviced', component: 'r3', on: '2026-11-20', odometer: '', cost: '12,50', text: WORDS, name: 'A name', do: 'save', ...more },
})

describe('B34: signed out on one tab, sent on another', () => {
  test('the sign-in page keeps what was typed; after it the form is there again, nothing saved; then it saves', async () => {
    const browser = await signedIn()
    const form = (await browser.ask(`${V}/entries/new?component=r3`)).body
    const other = (await browser.ask('/')).body
    await browser.ask('/sessions/end', { _token: tokenIn(other) })
    const before = counts()
    const door = await browser.ask(`${V}/entries`, typed(form))
    expect(door.statusCode).toBe(401)
    expect(faultsOf(door.body)).toEqual([])
    expect(door.body).not.toContain('<b>"swapped"</b>')
    const kept = hidden(door.body)
    expect(kept['kept-text']).toBe(WORDS)
    expect(kept['kept-name']).toBe('A name')
    expect(Object.keys(kept)).not.toContain('kept-_token')
    expect(kept._token).not.toBe(tokenIn(form))
    // A wrong password first: still kept.
    const again = await browser.ask('/sessions', { ...kept, name: 'Owner', password: 'wrong' })
    expect(again.statusCode).toBe(422)
    expect(hidden(again.body)['kept-text']).toBe(WORDS)
    const back = await browser.ask('/sessions', { ...hidden(again.body), name: 'Owner', password: PASSWORD })
    expect(back.statusCode).toBe(303)
    expect(back.headers.location).toMatch(new RegExp(`^${V}/entries/new\\?component=r3&kept=[0-9a-f-]{36}$`))
    const page = await browser.ask(back.headers.location as string)
    expect(counts()).toBe(before)
    expect(faultsOf(page.body)).toEqual([])
    expect(page.body).toContain('nothing of it is saved yet')
    expect(plain(insideOf(page.body, 'text'))).toBe(WORDS)
    expect(page.body).toContain('value="12,50"')
    expect(insideOf(page.body, 'component')).toMatch(/value="r3" selected/)
    expect(insideOf(page.body, 'verb')).toMatch(/value="serviced" selected/)
    // The same key as before: sent before and now, it would still be one entry.
    expect(hidden(page.body).once).toBe(hidden(form).once)
    const saved = await browser.ask(`${V}/entries`, typed(page.body))
    expect(saved.statusCode).toBe(303)
    expect(counts()).toBe(before + 1)
  })

  test('a session that ended by itself is the same, and a reload of the form still has it', async () => {
    const browser = await signedIn()
    const form = (await browser.ask(`${V}/entries/new`)).body
    book.db.$client.prepare("UPDATE sessions SET expires_at = '2000-01-01T00:00:00.000Z'").run()
    const door = await browser.ask(`${V}/entries`, typed(form))
    expect(door.statusCode).toBe(401)
    const back = await browser.ask('/sessions', { ...hidden(door.body), name: 'Owner', password: PASSWORD })
    for (let n = 0; n < 2; n++) expect((await browser.ask(back.headers.location as string)).body).toContain('&lt;b&gt;')
  })

  test('photos that had been sent are kept, all of them', async () => {
    const browser = visitor()
    const [one, two] = [randomUUID(), randomUUID()]
    const door = await browser.ask(`${V}/entries`, `_at=${encodeURIComponent(`${V}/entries/new`)}&photos=${one}&photos=${two}&text=a`)
    const kept = tagsOf(door.body).filter((tag) => tag.attributes.get('name') === 'kept-photos')
    expect(kept.map((tag) => tag.attributes.get('value'))).toEqual([one, two])
  })

  test('what one person typed is not shown to another', async () => {
    const name = book.app.keptForms.keep('somebody else', [{ name: 'text', value: 'private words' }])
    const browser = await signedIn()
    const page = await browser.ask(`${V}/entries/new?kept=${name}`)
    expect(page.statusCode).toBe(200)
    expect(page.body).not.toContain('private words')
    expect((await browser.ask(`${V}/entries/new?kept=nothing`)).statusCode).toBe(200)
  })

  test('signed out and in again on another tab: the old form is shown anew with what was typed, and not saved', async () => {
    const browser = await signedIn()
    const form = (await browser.ask(`${V}/entries/new`)).body
    await browser.ask('/sessions/end', { _token: tokenIn(form) })
    await browser.ask('/sessions', { _token: tokenIn((await browser.ask('/login')).body), name: 'Owner', password: PASSWORD })
    const before = counts()
    const reply = await browser.ask(`${V}/entries`, typed(form), { 'sec-fetch-site': 'same-origin' })
    expect(reply.statusCode).toBe(303)
    expect(reply.headers.location).toMatch(/\/entries\/new\?kept=/)
    const page = await browser.ask(reply.headers.location as string)
    expect(plain(insideOf(page.body, 'text'))).toBe(WORDS)
    expect(counts()).toBe(before)
    // Where nothing says that it came from here, it is refused as ever.
    expect((await browser.ask(`${V}/entries`, typed(form))).statusCode).toBe(403)
    expect((await browser.ask(`${V}/entries`, typed(form), { 'sec-fetch-site': 'cross-site' })).statusCode).toBe(403)
    expect((await browser.ask(`${V}/entries`, typed(form), { origin: 'https://evil.example' })).statusCode).toBe(403)
    expect(counts()).toBe(before)
  })

  test('a piece asked for by itself says so where it stands', async () => {
    const reply = await visitor().ask(`${V}/entry-previews`, { text: 'x' }, { 'hx-request': 'true' })
    expect(reply.statusCode).toBe(401)
    expect(reply.body).not.toContain('<html')
  })
})

describe('B7: what is kept leads back into this site only, and comes from this site only', () => {
  test.each(['//evil.example', '/\\evil', 'https:evil', '/%2f%2fevil', 'javascript:alert(1)', '', '/'])(
    'back to %s: not kept',
    async (at) => {
      const reply = await visitor().ask(`${V}/entries`, { _at: at, text: 'words' })
      expect([reply.statusCode, reply.headers.location]).toEqual([303, '/login'])
    },
  )
  test.each<[string, Record<string, string>]>([
    ['another origin', { origin: 'https://evil.example' }],
    ['no origin that can be told', { origin: 'null' }],
    ['marked cross-site', { 'sec-fetch-site': 'cross-site' }],
  ])('sent from %s: not kept', async (_, headers) => {
    const reply = await visitor().ask(`${V}/entries`, { _at: `${V}/entries/new`, text: 'words' }, headers)
    expect([reply.statusCode, reply.headers.location]).toEqual([303, '/login'])
  })
  test('a changed way back at the door itself leads to the first page', async () => {
    const browser = visitor()
    const door = await browser.ask(`${V}/entries`, { _at: `${V}/entries/new`, text: 'words' })
    const reply = await browser.ask('/sessions', { ...hidden(door.body), next: '//evil.example', name: 'Owner', password: PASSWORD })
    expect(reply.headers.location).toMatch(/^\/\?kept=/)
  })
  test('an address of ours that is no form is only opened, and its parameter does nothing', async () => {
    const browser = visitor()
    const door = await browser.ask(`${V}/entries`, { _at: '/shelf', text: 'words' })
    const reply = await browser.ask('/sessions', { ...hidden(door.body), name: 'Owner', password: PASSWORD })
    expect((await browser.ask(reply.headers.location as string)).statusCode).toBe(200)
  })
})

describe('no more is kept than a person types', () => {
  test('words past the bound are said not to be carried, and nothing is stored', async () => {
    const before = counts()
    const reply = await visitor().ask(`${V}/entries`, { _at: `${V}/entries/new`, text: 'x'.repeat(70_000) })
    expect(reply.statusCode).toBe(401)
    expect(reply.body).toContain('too long to carry along')
    expect(reply.body.length).toBeLessThan(10_000)
    expect(counts()).toBe(before)
  })
  test('a body past the bound is not read at all', async () => {
    const reply = await visitor().ask(`${V}/entries`, { _at: `${V}/entries/new`, text: 'x'.repeat(300_000) })
    expect([reply.statusCode, reply.headers.location]).toEqual([303, '/login'])
  })
  test('passwords and tokens are never carried', async () => {
    const reply = await visitor().ask(`${V}/entries`, {
      _at: `${V}/entries/new`,
      _token: 'old',
      password: 'a secret',
      do: 'save',
      text: 'words',
    })
    expect(reply.body).not.toContain('a secret')
    expect(Object.keys(hidden(reply.body)).sort()).toEqual(['_token', 'answer', 'kept-text', 'next'])
  })
  test('the oldest forms go when there are too many', () => {
    const first = book.app.keptForms.keep('p', [{ name: 'a', value: '1' }])
    for (let n = 0; n < 100; n++) book.app.keptForms.keep('p', [{ name: 'a', value: String(n) }])
    expect(book.app.keptForms.find('p', first)).toBeNull()
  })
})

test('a saved form is told to the browser, so that its own copy goes; a refused one is not', async () => {
  const browser = await signedIn()
  const form = (await browser.ask(`${V}/entries/new`)).body
  const refused = await browser.ask(`${V}/entries`, typed(form, { on: 'never' }))
  expect(refused.statusCode).toBe(422)
  expect(browser.jar.has('loombook_saved')).toBe(false)
  await browser.ask(`${V}/entries`, typed(form))
  expect(browser.jar.get('loombook_saved')).toBe(hidden(form).once)
})

test('before there is an owner nothing is kept: the way is to set up', async () => {
  const { openDatabase } = await import('../../server/records/database.ts')
  const { buildApp } = await import('../../server/app.ts')
  const db = openDatabase(':memory:')
  const app = await buildApp({ db, clock: book.clock, config: { data: '', host: '127.0.0.1', port: 0, timeZone: 'UTC' } })
  const post = () =>
    app.inject({ method: 'POST', url: `${V}/entries`, headers: { 'content-type': FORM }, payload: `_at=${V}/entries/new&text=a` })
  expect((await post()).headers.location).toBe('/first-run')
  expect(createOwner(db, book.clock, { name: 'Owner', password: PASSWORD }).ok).toBe(true)
  expect((await post()).statusCode).toBe(401)
  await app.close()
})
