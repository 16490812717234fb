/** What concerns security is kept, and whoever has no account here fills neither the disk nor the list. */
import { expect, it } from 'vitest'
import type { Clock } from '../../server/records/clock.ts'
import { forgetOldSecurityEvents, noteSecurity, securityEventsOf } from '../../server/records/security-log.ts'
import { openBook } from './book.ts'

function openLog() {
  const { db, actor } = openBook()
  let now = new Date('2026-06-01T12:00:00Z')
  const clock: Clock = { now: () => now }
  const later = (minutes: number) => {
    now = new Date(now.getTime() + minutes * 60_000)
  }
  const count = () => db.$client.prepare('SELECT count(*) FROM security_events').pluck().get() as number
  const refuse = (address: string) => noteSecurity(db, clock, { kind: 'write-refused', says: 'POST /x', address })
  return { db, actor, clock, later, count, refuse }
}

it('one address that is refused a thousand times: sixty are told, and that more came; then again after a quarter of an hour', () => {
  const { db, actor, clock, later, count, refuse } = openLog()
  for (let n = 0; n < 1000; n++) refuse('198.51.100.7')
  expect(count()).toBe(60)
  const [last] = securityEventsOf(db, actor, { limit: 1 })
  expect(last).toMatchObject({ kind: 'write-refused', address: '198.51.100.7' })
  expect(last?.says).toContain('More from there is not kept for a quarter of an hour.')
  refuse('198.51.100.8')
  expect(count()).toBe(61)
  // A subscriber has a whole network of these.
  for (let n = 0; n < 1000; n++) refuse(`2001:db8:1:2::${n.toString(16)}`)
  expect(count()).toBe(121)
  later(16)
  refuse('198.51.100.7')
  expect(count()).toBe(122)
  for (let n = 0; n < 1000; n++) noteSecurity(db, clock, { kind: 'write-refused', says: 'x', address: '198.51.100.7', ...keys(actor) })
  expect(count()).toBe(1122)
})

it('from any number of addresses: a thousand in a quarter of an hour', () => {
  const { count, later, refuse } = openLog()
  for (let n = 0; n < 5000; n++) refuse(`10.${n >> 8}.${n & 255}.1`)
  expect(count()).toBe(1000)
  later(16)
  refuse('10.0.0.1')
  expect(count()).toBe(1001)
})

it('of what nobody here did the newest twenty thousand stay; what people here did stays a year', () => {
  const { db, actor, clock, later, count } = openLog()
  noteSecurity(db, clock, { kind: 'signed-in', says: 'x', ...keys(actor) })
  const insert = db.$client.prepare(
    "INSERT INTO security_events (id, kind, says, address, recorded_at) VALUES (?, 'write-refused', 'x', '', '2026-06-01T12:00:00.000Z')",
  )
  db.$client.transaction(() => {
    for (let n = 0; n < 20_005; n++) insert.run(`0190a000-0000-7000-8000-${String(n).padStart(12, '0')}`)
  })()
  expect(forgetOldSecurityEvents(db, clock)).toBe(5)
  expect(count()).toBe(20_001)
  expect(db.$client.prepare('SELECT min(id) FROM security_events WHERE household_id IS NULL').pluck().get()).toMatch(/000000000005$/)
  later(366 * 24 * 60)
  expect(forgetOldSecurityEvents(db, clock)).toBe(20_001)
})

function keys({ householdId, personId }: { readonly householdId: string; readonly personId: string }) {
  return { householdId, personId }
}
