/** What programs say anew or take back: the records decide, as they do for people, and nothing is lost. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Problem } from '../../server/api/problem.ts'
import { rowCounts } from '../records/book.ts'
import { type ApiBook, ENTRY, openBook } from './book.ts'

type Entry = { readonly id: string; readonly title: string; readonly withdrawn: boolean; readonly changes: readonly object[] }
let book: ApiBook
beforeAll(async () => {
  book = await openBook()
})
afterAll(() => book.close())

const add = async (more: object = {}): Promise<Entry> => {
  const reply = await book.tell(`/api/vehicles/${book.vehicle}/entries`, { ...ENTRY, ...more })
  expect(reply.statusCode, reply.body.slice(0, 300)).toBe(201)
  return reply.json() as Entry
}
const listed = async () => {
  const reply = await book.ask(`/api/vehicles/${book.vehicle}/entries?limit=100`)
  return (reply.json() as { items: Entry[] }).items
}
const refusal = (reply: { statusCode: number; json(): unknown }) => {
  const { type, code, faults } = reply.json() as { type: string; code: string; faults: { entryId?: string }[] } & Partial<Problem>
  return [reply.statusCode, type.split('#')[1], code, faults?.[0]?.entryId]
}

describe('a correction', () => {
  test('takes the place of the version it corrects; both stay readable; the older one is refused by the name of the later', async () => {
    const made = await add()
    const before = (await listed()).map((one) => one.id)
    const said = { ...ENTRY, title: 'Said anew', changes: [{ kind: 'measured', at: 'r7', quantity: 'current', value: 17.5 }] }
    const reply = await book.tell(`/api/entries/${made.id}/corrections`, said)
    expect(reply.statusCode, reply.body.slice(0, 300)).toBe(201)
    const next = reply.json() as Entry
    expect(next).toMatchObject({ title: 'Said anew', changes: said.changes, withdrawn: false })
    expect((await listed()).map((one) => one.id)).toEqual(before.map((id) => (id === made.id ? next.id : id)))
    expect((await book.ask(`/api/entries/${made.id}`)).json()).toMatchObject({ title: ENTRY.title })
    const rows = rowCounts(book.db)
    for (const [what, body] of [
      ['corrections', said],
      ['withdrawals', {}],
    ] as const) {
      const late = await book.tell(`/api/entries/${made.id}/${what}`, body)
      expect(refusal(late)).toEqual([409, 'not-possible', 'already-corrected', next.id])
    }
    expect(rowCounts(book.db)).toEqual(rows)
  })

  test('that does not go with the wiring, is still to come, or holds what nobody asked for, is refused whole', async () => {
    const { id } = await add()
    const rows = rowCounts(book.db)
    const removed = { ...ENTRY, changes: [{ kind: 'removed', component: 'not-there', fate: 'bin' }] }
    expect(refusal(await book.tell(`/api/entries/${id}/corrections`, removed)).slice(0, 3)).toEqual([409, 'not-possible', 'does-not-apply'])
    for (const body of [
      { ...ENTRY, effectiveOn: '2026-12-24' },
      { ...ENTRY, vehicleId: book.vehicles[1] },
      { ...ENTRY, correction: 'withdrawn' },
    ])
      expect((await book.tell(`/api/entries/${id}/corrections`, body)).statusCode).toBe(422)
    expect(rowCounts(book.db)).toEqual(rows)
  })
})

describe('a withdrawal', () => {
  test('marks the entry and says why; it is still listed; twice is refused', async () => {
    const made = await add()
    const reply = await book.tell(`/api/entries/${made.id}/withdrawals`, { reason: 'Written down twice.' })
    expect(reply.statusCode, reply.body.slice(0, 300)).toBe(201)
    expect(reply.json()).toMatchObject({ id: made.id, withdrawn: true })
    expect((await listed()).find((one) => one.id === made.id)).toMatchObject({ withdrawn: true })
    const sql = "SELECT text FROM entries WHERE corrects_id = ? AND correction = 'withdrawn'"
    expect(book.db.$client.prepare(sql).pluck().all(made.id)).toEqual(['Written down twice.'])
    const rows = rowCounts(book.db)
    expect(refusal(await book.tell(`/api/entries/${made.id}/withdrawals`, {})).slice(0, 3)).toEqual([
      409,
      'not-possible',
      'already-corrected',
    ])
    for (const body of ['', '[]', { reason: 1 }, { reason: 'x'.repeat(20_001) }, { because: 'x' }])
      expect((await book.tell(`/api/entries/${made.id}/withdrawals`, body)).statusCode).toBeGreaterThanOrEqual(400)
    expect(rowCounts(book.db)).toEqual(rows)
  })

  test('is named where it stands in the way; taken back itself, the entry stands again', async () => {
    const { id } = await add()
    await book.tell(`/api/entries/${id}/withdrawals`, {})
    const withdrawal = refusal(await book.tell(`/api/entries/${id}/withdrawals`, {}))[3]
    const reply = await book.tell(`/api/entries/${withdrawal}/withdrawals`, {})
    expect([reply.statusCode, (reply.json() as Entry).id, (reply.json() as Entry).withdrawn]).toEqual([201, id, false])
    expect((await listed()).find((one) => one.id === id)).toMatchObject({ withdrawn: false })
  })

  test('of what a later entry needs is refused, and that entry is named', async () => {
    const { part } = (await book
      .ask(`/api/vehicles/${book.vehicle}/document`)
      .then((reply) => (reply.json() as { components: { part: string }[] }).components.at(0))) as { part: string }
    const fitted = await add({ changes: [{ kind: 'fitted', component: { key: 'lent-one', name: 'Lent', part } }] })
    const later = await add({ effectiveOn: '2026-11-21', changes: [{ kind: 'noted', component: 'lent-one', text: 'Dry.' }] })
    const reply = await book.tell(`/api/entries/${fitted.id}/withdrawals`, {})
    expect(refusal(reply)).toEqual([409, 'not-possible', 'later-entry-depends', later.id])
  })
})

test('R17: sent again with its key, each is done once and answered the same', async () => {
  for (const [what, body] of [
    ['corrections', { ...ENTRY, title: 'Once' }],
    ['withdrawals', { reason: 'Once.' }],
  ] as const) {
    const { id } = await add()
    const before = rowCounts(book.db)
    const headers = { 'idempotency-key': `once-${what}` }
    const replies = await Promise.all(Array.from({ length: 3 }, () => book.tell(`/api/entries/${id}/${what}`, body, { headers })))
    expect(new Set(replies.map((reply) => `${reply.statusCode} ${reply.body}`)).size).toBe(1)
    expect(replies[0]?.statusCode, replies[0]?.body.slice(0, 300)).toBe(201)
    expect((rowCounts(book.db).entries ?? 0) - (before.entries ?? 0)).toBe(1)
  }
})

test('B3: another household’s entry is like one that nobody has, and stays as it was', async () => {
  const { id } = await add()
  const before = rowCounts(book.db)
  for (const [what, body] of [
    ['corrections', ENTRY],
    ['withdrawals', {}],
  ] as const) {
    const theirs = await book.tell(`/api/entries/${id}/${what}`, body, { as: 'stranger' })
    const nobodys = await book.tell(`/api/entries/0190a000-0000-7000-8000-000000000001/${what}`, body, { as: 'stranger' })
    expect([theirs.statusCode, theirs.body]).toEqual([404, nobodys.body])
    expect((await book.tell(`/api/entries/${id}/${what}`, body, { as: 'read' })).statusCode).toBe(403)
  }
  expect(rowCounts(book.db)).toEqual(before)
})
