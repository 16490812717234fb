/** A backup of much takes longer than anybody waits for an answer: the page says that it goes on, and how it ended when it is opened again. */
import { afterEach, beforeEach, expect, test, vi } from 'vitest'
import { type Job, runNow } from '../../server/records/jobs.ts'
import { type Book, openBook } from './book.ts'

// Whoever waits has waited long enough at once, or waits for ever.
const patience = vi.hoisted(() => ({ isOver: true }))
vi.mock('node:timers/promises', async (actual) => ({
  ...(await actual<object>()),
  setTimeout: (_delay_ms: number, value: unknown) => (patience.isOver ? Promise.resolve(value) : new Promise(() => {})),
}))

let book: Book
beforeEach(async () => {
  patience.isOver = true
  book = await openBook({ demo: false })
})
afterEach(() => book.close())

test('one that takes long goes on without whoever asked', async () => {
  const asked = await book.post('/settings/backups', {})
  expect(asked.statusCode).toBe(202)
  expect(asked.body).toContain('It is under way and goes on by itself.')
  const says = async () => (await book.get('/settings')).body
  await vi.waitFor(async () => expect(await says()).toContain('Last good backup: less than an hour ago'), { timeout: 20_000 })
})

test('one that is under way already is not begun again, and that is said', async () => {
  let end: (says: string) => void = () => {}
  const run = () => new Promise<string>((resolve) => (end = resolve))
  const first = runNow(book.db, book.clock, { name: 'backup', title: 'Backup', every: 'night', run } satisfies Job)
  patience.isOver = false
  const asked = await book.post('/settings/backups', {})
  expect([asked.statusCode, asked.body.includes('It is under way already')]).toEqual([409, true])
  end('Made.')
  await first
})
