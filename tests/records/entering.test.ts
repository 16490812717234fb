/** What is left of coming in, and is forgotten: tickets that are over, and devices whose last session is. */
import { expect, test } from 'vitest'
import { fixedClock } from '../../server/records/clock.ts'
import { openDatabase } from '../../server/records/database.ts'
import { forgetOldEntering, ticketHolder, tryTicket } from '../../server/records/entering.ts'
import { createOwner, knownDeviceOf, signIn } from '../../server/records/people.ts'
import { sessionOf } from '../../server/records/sessions.ts'

const at = (instant: string) => fixedClock(instant)
const NOON = at('2026-03-01T12:00:00Z')
const robin = { name: 'Robin', password: 'long enough' }

function house() {
  const db = openDatabase(':memory:')
  createOwner(db, NOON, robin)
  const comeIn = async (clock = NOON) => {
    const signedIn = await signIn(db, clock, robin)
    if (!signedIn.ok) throw new Error('not signed in')
    return signedIn.value
  }
  const tickets = () => db.$client.prepare('SELECT count(*) FROM sign_in_tickets').pluck().get()
  return { db, comeIn, tickets }
}

// RFC 6265bis, 5.5: no cookie is kept longer than 400 days. 1 March 2026 and 400 days is 5 April 2027.
test('a device is known as long as its cookie lives, which is longer than any session, and then forgotten', async () => {
  const { db, comeIn } = house()
  const [old, later] = [await comeIn(), await comeIn(at('2026-03-01T12:00:01Z'))]
  if (old.state !== 'in' || later.state !== 'in') throw new Error('asked for more')
  const known = () => [old, later].map(({ deviceToken }) => knownDeviceOf(db, deviceToken, 'Robin') !== null)
  // A session lasts ninety days at most: 30 May. When it is over and the password is asked for, the device is no stranger.
  expect([sessionOf(db, at('2026-05-30T12:00:01Z'), old.token), forgetOldEntering(db, at('2026-05-30T12:00:01Z'))]).toEqual([null, 0])
  expect(forgetOldEntering(db, at('2027-04-05T12:00:00Z'))).toBe(0)
  expect(known()).toEqual([true, true])
  expect(forgetOldEntering(db, at('2027-04-05T12:00:01Z'))).toBe(1)
  expect(known()).toEqual([false, true])
})

test('a ticket that is too old or was tried too often is forgotten, one that is good is not', async () => {
  const { db, comeIn, tickets } = house()
  db.$client.prepare("UPDATE people SET second_factor = 'JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP'").run()
  const [first, tried] = [await comeIn(), await comeIn()]
  const good = await comeIn(at('2026-03-01T12:04:00Z'))
  if (first.state !== 'second-factor' || tried.state !== 'second-factor' || good.state !== 'second-factor') throw new Error('let in')
  for (let n = 0; n < 5; n++) expect(tryTicket(db, NOON, tried.ticket)).not.toBeNull()
  expect(tryTicket(db, NOON, tried.ticket)).toBeNull()
  expect([forgetOldEntering(db, NOON), tickets()]).toEqual([1, 2])
  // Five minutes each.
  expect([forgetOldEntering(db, at('2026-03-01T12:05:00Z')), tickets()]).toEqual([1, 1])
  expect(ticketHolder(db, at('2026-03-01T12:05:00Z'), good.ticket)?.name).toBe('Robin')
})
