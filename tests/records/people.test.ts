import { describe, expect, it } from 'vitest'
import { fixedClock } from '../../server/records/clock.ts'
import { openDatabase } from '../../server/records/database.ts'
import { createOwner, isFirstRun, signIn } from '../../server/records/people.ts'
import { endSession, sessionOf } from '../../server/records/sessions.ts'

const clock = fixedClock('2026-03-01T12:00:00Z')
const owner = { name: 'Robin', password: 'long enough' }

describe('the first account', () => {
  it('is made once', () => {
    const db = openDatabase(':memory:')
    expect(isFirstRun(db)).toBe(true)
    expect(createOwner(db, clock, owner).ok).toBe(true)
    expect(isFirstRun(db)).toBe(false)
    expect(createOwner(db, clock, { name: 'Other', password: 'long enough' })).toMatchObject({
      ok: false,
      refusals: [{ code: 'already-set-up' }],
    })
  })

  it('is refused with every fault named, and nothing is kept', () => {
    const db = openDatabase(':memory:')
    expect(createOwner(db, clock, { name: ' ', password: 'short' })).toMatchObject({
      ok: false,
      refusals: [{ field: 'name' }, { field: 'password' }],
    })
    expect(isFirstRun(db)).toBe(true)
  })
})

describe('sessions', () => {
  it('open with the right password only, are kept as a hash, end and expire', async () => {
    const db = openDatabase(':memory:')
    createOwner(db, clock, owner)
    expect(await signIn(db, clock, { name: 'robin', password: 'wrong word' })).toMatchObject({
      ok: false,
      refusals: [{ code: 'wrong-name-or-password' }],
    })
    expect(await signIn(db, clock, { name: 'nobody', password: 'long enough' })).toMatchObject({ ok: false })
    const signedIn = await signIn(db, clock, { name: ' ROBIN ', password: 'long enough' })
    if (!signedIn.ok || signedIn.value.state !== 'in') throw new Error('not signed in')
    const { token } = signedIn.value
    expect(Buffer.from(token, 'base64url')).toHaveLength(32)
    expect(JSON.stringify(db.$client.prepare('SELECT * FROM sessions').all())).not.toContain(token)
    expect(JSON.stringify(db.$client.prepare('SELECT * FROM people').all())).not.toContain('long enough')
    expect(sessionOf(db, clock, token)?.actor.name).toBe('Robin')
    expect(sessionOf(db, clock, token)?.formSecret.length).toBeGreaterThanOrEqual(43)
    expect(sessionOf(db, clock, `${token}x`)).toBeNull()
    expect(sessionOf(db, fixedClock('2026-06-01T12:00:00Z'), token)).toBeNull()
    endSession(db, token)
    expect(sessionOf(db, clock, token)).toBeNull()
  })
})

describe('a password as long as is taken', () => {
  // 1000 letters each, and more where a letter is counted by its halves, or as it was typed: e and its accent apart.
  it.each([
    ['signs of two halves', '\u{1F697}'.repeat(1000)],
    ['letters typed with the accent apart', 'e\u0301'.repeat(1000)],
    ['signs that stand for several letters', '\uFB03'.repeat(333)],
  ])('of %s lets in, and without its last letter it does not', async (_, password) => {
    const db = openDatabase(':memory:')
    expect(createOwner(db, clock, { name: 'Robin', password }).ok).toBe(true)
    expect((await signIn(db, clock, { name: 'Robin', password })).ok).toBe(true)
    expect((await signIn(db, clock, { name: 'Robin', password: [...password].slice(0, -1).join('') })).ok).toBe(false)
    expect((await signIn(db, clock, { name: 'Robin', password: `${password}${password}` })).ok).toBe(false)
  })
})
