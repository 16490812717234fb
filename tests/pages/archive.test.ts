import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type Book, openBook } from './book.ts'

let book: Book
beforeAll(async () => {
  book = await openBook()
})
afterAll(() => book.close())

const form = (bytes: Buffer) => {
  const made = new FormData()
  made.append('_token', book.token)
  made.append('archive', new Blob([new Uint8Array(bytes)], { type: 'application/zip' }), 'a.zip')
  return book.app.inject({ method: 'POST', url: '/archive/imports', headers: { cookie: book.cookie }, payload: made as never })
}

describe('the archive over http', () => {
  test('downloaded, taken in again: nothing new; taken in elsewhere: all of it', async () => {
    const zip = await book.get('/archive/download')
    expect([zip.statusCode, zip.headers['content-type'], zip.headers['content-disposition']]).toEqual([
      200,
      'application/zip',
      'attachment; filename="loombook-2026-11-25.zip"',
    ])
    expect((await form(zip.rawPayload)).body).toContain('Nothing new: all of it was here already.')
    const other = await openBook({ demo: false })
    const made = new FormData()
    made.append('_token', other.token)
    made.append('archive', new Blob([new Uint8Array(zip.rawPayload)]), 'a.zip')
    const taken = await other.app.inject({
      method: 'POST',
      url: '/archive/imports',
      headers: { cookie: other.cookie },
      payload: made as never,
    })
    expect(taken.body).toContain('Taken in: 3 vehicles')
    expect((await other.get('/')).body).toContain('Bramble')
    await other.close()
  })
  test('what is no archive is refused in words', async () => {
    const reply = await form(Buffer.from('no zip'))
    expect([reply.statusCode, reply.body.includes('not a whole zip file')]).toEqual([422, true])
    expect((await book.post('/archive/imports', {})).statusCode).toBe(422)
  })
  test('a vehicle that has left is said to have left, and comes back when its entry is withdrawn', async () => {
    const V = `/vehicles/${book.vehicles[1]}`
    const left = await book.post(`${V}/departures`, { how: 'sold', on: '2026-11-20', to: 'Robin' })
    expect(left.statusCode).toBe(303)
    expect((await book.get(V)).body).toContain('sold on 20 November 2026')
    expect((await book.get('/')).body).toMatch(/Left[\s\S]*Wren/)
    expect((await book.get(`${V}?on=2026-11-19`)).body).not.toContain('sold on')
    const again = await book.post(`${V}/departures`, { how: 'scrapped', on: '2026-11-21' })
    expect([again.statusCode, again.body.includes('had left already')]).toEqual([409, true])
    await book.post(`${left.headers.location}/withdrawals`, {})
    expect((await book.get(V)).body).not.toContain('sold on')
  })
  test('an editor or a viewer takes nothing away whole', async () => {
    const person = book.db.$client.prepare("UPDATE people SET role = 'editor'").run()
    expect(person.changes).toBe(1)
    for (const url of ['/archive', '/archive/download', `/vehicles/${book.vehicles[0]}/archive/download`])
      expect((await book.get(url)).statusCode, url).toBe(403)
    book.db.$client.prepare("UPDATE people SET role = 'owner'").run()
  })
})
