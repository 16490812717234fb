/** What somebody did with the ways in stands in the log of what concerns security (ASVS 16.3.1), with the address and without a secret. */
import { afterAll, beforeAll, expect, test } from 'vitest'
import { type Book, openBook, PASSWORD } from './book.ts'

let book: Book
beforeAll(async () => {
  book = await openBook({ demo: false })
})
afterAll(() => book.close())

const events = () =>
  book.db.$client.prepare('SELECT kind, says, address, person_id FROM security_events ORDER BY rowid').all() as {
    kind: string
    says: string
    address: string
    person_id: string | null
  }[]

test('a password asked for again and wrong, in both places; an address set; feeds and invitations made and taken back; signing out', async () => {
  const before = events().length
  const act = async (url: string, fields: Record<string, string>, status: number) => {
    const reply = await book.post(url, fields)
    expect([url, reply.statusCode]).toEqual([url, status])
    return reply
  }
  await act('/confirm', { password: 'a wrong word', next: '/' }, 422)
  await act('/account/passwords', { present: 'a wrong word', next: 'quite a few words' }, 422)
  await act(`/people/${book.actor.personId}/emails`, { email: 'robin@mail.example' }, 303)
  const feed = /\/feeds\/([\w-]{43})\.ics/.exec((await act('/feeds', { kind: 'due' }, 201)).body)?.[1] as string
  const [{ id }] = book.db.$client.prepare('SELECT token_hash AS id FROM feeds').all() as [{ id: string }]
  await act('/feeds/revocations', { feed: id }, 303)
  await act('/people/invitations', { role: 'viewer' }, 201)
  const invitation = /people\/invitations\/([0-9a-f]+)\/revocations/.exec((await book.get('/people')).body)?.[1] as string
  await act(`/people/invitations/${invitation}/revocations`, {}, 303)
  await act('/sessions/end', {}, 303)
  const noted = events().slice(before)
  expect(noted.map(({ kind }) => kind)).toEqual([
    'password-refused',
    'password-refused',
    'email-set',
    'feed-made',
    'feed-revoked',
    'invited',
    'invitation-revoked',
    'signed-out',
  ])
  for (const { kind, person_id } of noted) expect([kind, person_id]).toEqual([kind, book.actor.personId])
  for (const { kind, address } of noted.filter(({ kind }) => ['password-refused', 'signed-out'].includes(kind)))
    expect([kind, address]).toEqual([kind, '127.0.0.1'])
  for (const secret of ['wrong word', 'robin@mail.example', feed, PASSWORD]) expect(JSON.stringify(noted), secret).not.toContain(secret)
})

test('a token that opens nothing', async () => {
  const before = events().length
  const authorization = `Bearer ${'x'.repeat(43)}`
  expect((await book.app.inject({ url: '/api/vehicles', headers: { authorization } })).statusCode).toBe(401)
  expect((await book.app.inject({ url: '/api/vehicles' })).statusCode).toBe(401)
  expect(events().slice(before)).toEqual([
    { kind: 'token-refused', says: 'GET /api/vehicles: not known, or no longer good', address: '127.0.0.1', person_id: null },
  ])
})
