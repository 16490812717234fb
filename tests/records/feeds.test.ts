import { createHash } from 'node:crypto'
import { expect, it } from 'vitest'
import { feedsOf, makeFeed, openFeed, revokeFeed } from '../../server/records/feeds.ts'
import { household, openBook, rowCounts, value } from './book.ts'

it('a feed: 256 bits, only the hash kept, its last use noted, revoked for good', () => {
  const book = openBook()
  const { token } = value(makeFeed(book.db, book.clock, book.actor, { kind: 'due', vehicleId: book.vehicleId }))
  expect(Buffer.from(token, 'base64url')).toHaveLength(32)
  const stored = JSON.stringify(book.db.$client.prepare('SELECT * FROM feeds').all())
  expect(stored).not.toContain(token)
  expect(stored).toContain(createHash('sha256').update(token).digest('hex'))
  expect(feedsOf(book.db, book.actor)).toMatchObject([{ kind: 'due', vehicleId: book.vehicleId, lastUsedAt: null }])
  expect(openFeed(book.db, book.clock, { token, kind: 'journal' })).toBeNull()
  expect(openFeed(book.db, book.clock, { token: `${token}x`, kind: 'due' })).toBeNull()
  expect(feedsOf(book.db, book.actor)[0]?.lastUsedAt).toBeNull()
  expect(openFeed(book.db, book.clock, { token, kind: 'due' })).toMatchObject({
    actor: { householdId: book.actor.householdId },
    vehicleId: book.vehicleId,
  })
  const [feed] = feedsOf(book.db, book.actor)
  expect(feed?.lastUsedAt).toBe('2026-06-01T12:00:00.000Z')
  value(revokeFeed(book.db, book.clock, book.actor, feed?.id ?? ''))
  expect(openFeed(book.db, book.clock, { token, kind: 'due' })).toBeNull()
  expect(feedsOf(book.db, book.actor)).toEqual([])
  expect(revokeFeed(book.db, book.clock, book.actor, feed?.id ?? '')).toMatchObject({ ok: false, refusals: [{ code: 'not-found' }] })
})

it('another household can neither make a feed of a vehicle, see one nor revoke it', () => {
  const book = openBook()
  const stranger = household(book.db, book.clock, 'Stranger')
  value(makeFeed(book.db, book.clock, book.actor, { kind: 'journal' }))
  const before = rowCounts(book.db)
  expect(makeFeed(book.db, book.clock, stranger, { kind: 'due', vehicleId: book.vehicleId })).toMatchObject({ ok: false })
  expect(feedsOf(book.db, stranger)).toEqual([])
  expect(revokeFeed(book.db, book.clock, stranger, feedsOf(book.db, book.actor)[0]?.id ?? '')).toMatchObject({ ok: false })
  expect(rowCounts(book.db)).toEqual(before)
  expect(feedsOf(book.db, book.actor)).toHaveLength(1)
})

it('answers nobody while whoever made it may not come in', () => {
  const book = openBook()
  const { token } = value(makeFeed(book.db, book.clock, book.actor, { kind: 'journal' }))
  const closed = (at: string | null) =>
    book.db.$client.prepare('UPDATE people SET disabled_at = ? WHERE id = ?').run(at, book.actor.personId)
  const isOpen = () => openFeed(book.db, book.clock, { token, kind: 'journal' }) !== null
  expect(isOpen()).toBe(true)
  closed('2026-06-01T12:00:00.000Z')
  expect(isOpen()).toBe(false)
  closed(null)
  expect(isOpen()).toBe(true)
})
