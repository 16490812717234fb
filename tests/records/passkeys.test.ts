/** Passkeys as a device makes them, by hand: authenticator data and client data after W3C Web Authentication 6.1 and 5.8.1, COSE keys after RFC 9053. */
import { createHash, createSign, generateKeyPairSync, type KeyObject, randomBytes } from 'node:crypto'
import { beforeEach, describe, expect, test } from 'vitest'
import { Challenges } from '../../server/records/challenges.ts'
import type { Clock } from '../../server/records/clock.ts'
import type { Actor } from '../../server/records/contract.ts'
import { type Db, openDatabase } from '../../server/records/database.ts'
import {
  addPasskey,
  passkeysOf,
  type RelyingParty,
  removePasskey,
  renamePasskey,
  signInWithPasskey,
  signInWithPasskeyToo,
} from '../../server/records/passkeys.ts'
import { createOwner, signIn, signInWithCode } from '../../server/records/people.ts'

const PASSWORD = 'a long enough word'
const party: RelyingParty = { id: 'garden.example', origin: 'https://garden.example' }
const from = { device: '', address: '192.0.2.1' }
const visitor = 'the form token of one visitor'
let db: Db
let now: Date
const clock: Clock = { now: () => now }
let challenges: Challenges
let owner: Actor

beforeEach(() => {
  now = new Date('2026-11-25T12:00:00Z')
  db = openDatabase(':memory:')
  challenges = new Challenges(clock)
  const made = createOwner(db, clock, { name: 'Owner', password: PASSWORD })
  if (!made.ok) throw new Error('no owner')
  owner = made.value
})

const sha256 = (bytes: Uint8Array | string) => createHash('sha256').update(bytes).digest()
const b64 = (bytes: Uint8Array | string) => Buffer.from(bytes).toString('base64url')

type Purpose = 'register' | 'sign-in' | 'second-step'
type Told = {
  readonly purpose?: Purpose
  readonly origin?: string
  readonly party?: string
  readonly type?: string
  readonly verified?: boolean
  readonly challenge?: string
  readonly count?: number
  readonly signer?: KeyObject
}
const takes = (purpose: Purpose) => (challenge: string) => challenges.take(challenge, { purpose, visitor })

/** A device with one ES256 key. */
function device() {
  const { publicKey, privateKey } = generateKeyPairSync('ec', { namedCurve: 'P-256' })
  const { x = '', y = '' } = publicKey.export({ format: 'jwk' })
  const id = randomBytes(16)
  // {1: 2 (EC2), 3: -7 (ES256), -1: 1 (P-256), -2: x, -3: y}, in CBOR (RFC 8949)
  const cose = Buffer.concat([
    Buffer.from('a5010203262001215820', 'hex'),
    Buffer.from(x, 'base64url'),
    Buffer.from('225820', 'hex'),
    Buffer.from(y, 'base64url'),
  ])
  const counted = (count: number) => {
    const bytes = Buffer.alloc(4)
    bytes.writeUInt32BE(count)
    return bytes
  }
  const client = (told: Told, type: string, purpose: Purpose) =>
    Buffer.from(
      JSON.stringify({
        type: told.type ?? type,
        challenge: told.challenge ?? b64(challenges.make({ purpose: told.purpose ?? purpose, visitor })),
        origin: told.origin ?? party.origin,
        crossOrigin: false,
      }),
    )
  /** user present 0x01, user verified 0x04, attested data 0x40 */
  const flags = (told: Told, more: number) => Buffer.from([0x01 | (told.verified === false ? 0 : 0x04) | more])
  return {
    id: b64(id),
    registers(told: Told = {}): string {
      const length = Buffer.from([0, id.length])
      const data = Buffer.concat([
        sha256(told.party ?? party.id),
        flags(told, 0x40),
        counted(told.count ?? 0),
        Buffer.alloc(16),
        length,
        id,
        cose,
      ])
      // {"fmt": "none", "attStmt": {}, "authData": bytes}
      const object = Buffer.concat([
        Buffer.from('a363666d74646e6f6e656761747453746d74a0686175746844617461', 'hex'),
        Buffer.from([0x58, data.length]),
        data,
      ])
      const response = {
        clientDataJSON: b64(client(told, 'webauthn.create', 'register')),
        attestationObject: b64(object),
        transports: ['internal'],
      }
      return JSON.stringify({ id: b64(id), rawId: b64(id), type: 'public-key', response, clientExtensionResults: {} })
    },
    signs(purpose: Purpose, told: Told = {}): string {
      const data = Buffer.concat([sha256(told.party ?? party.id), flags(told, 0), counted(told.count ?? 0)])
      const clientData = client(told, 'webauthn.get', purpose)
      const signature = createSign('sha256')
        .update(Buffer.concat([data, sha256(clientData)]))
        .sign(told.signer ?? privateKey)
      const response = { clientDataJSON: b64(clientData), authenticatorData: b64(data), signature: b64(signature) }
      return JSON.stringify({ id: b64(id), rawId: b64(id), type: 'public-key', response, clientExtensionResults: {} })
    },
  }
}

const add = (answer: string, name = 'Phone') => addPasskey(db, clock, owner, { answer, party, name, takes: takes('register') })
const enter = (answer: string, at = party) => signInWithPasskey(db, clock, { answer, party: at, from, takes: takes('sign-in') })
const ticketOf = async () => {
  const signed = await signIn(db, clock, { name: 'Owner', password: PASSWORD })
  if (!signed.ok || signed.value.state !== 'second-factor') throw new Error('no second step')
  return signed.value.ticket
}

describe('made', () => {
  test('kept with its name; the first brings recovery codes, the next none; what opens nothing is kept', async () => {
    const added = await add(device().registers())
    expect(added.ok && added.value.recoveryCodes).toHaveLength(8)
    const second = await add(device().registers(), 'Key')
    expect(second).toEqual({ ok: true, value: { recoveryCodes: [] } })
    expect(passkeysOf(db, owner).map((one) => [one.name, one.relyingParty])).toEqual([
      ['Phone', 'garden.example'],
      ['Key', 'garden.example'],
    ])
  })
  test.each<[string, Told]>([
    ['another origin', { origin: 'https://evil.example' }],
    ['another host name', { party: 'evil.example' }],
    ['a challenge for signing in', { purpose: 'sign-in' }],
    ['a challenge that is not ours', { challenge: b64(randomBytes(62)) }],
    ['an answer of another kind', { type: 'webauthn.get' }],
  ])('refused with %s', async (_, told) => {
    expect(await add(device().registers(told))).toMatchObject({ ok: false, refusals: [{ code: 'passkey-not-right' }] })
    expect(passkeysOf(db, owner)).toEqual([])
  })
  test('twice the same, or the same answer again, is refused; so is what is no answer, and a name of nothing', async () => {
    const phone = device()
    const answer = phone.registers()
    expect((await add(answer)).ok).toBe(true)
    for (const sent of [
      answer,
      phone.registers(),
      '',
      '{}',
      'null',
      '{"id":1}',
      `{"id":"x","rawId":"x","type":"public-key","response":{}}`,
    ])
      expect(await add(sent), sent.slice(0, 40)).toMatchObject({ ok: false, refusals: [{ code: 'passkey-not-right' }] })
    expect(await add(device().registers(), ' ')).toMatchObject({ ok: false, refusals: [{ field: 'name' }] })
    expect(passkeysOf(db, owner)).toHaveLength(1)
  })
  test('a challenge is over after five minutes, works once, and for its visitor only', () => {
    const made = b64(challenges.make({ purpose: 'register', visitor }))
    expect(challenges.take(made, { purpose: 'register', visitor: 'another' })).toBe(false)
    expect(challenges.take(made, { purpose: 'register', visitor })).toBe(true)
    expect(challenges.take(made, { purpose: 'register', visitor })).toBe(false)
    const old = b64(challenges.make({ purpose: 'register', visitor }))
    now = new Date(now.getTime() + 5 * 60_000 + 1)
    expect(challenges.take(old, { purpose: 'register', visitor })).toBe(false)
  })
})

describe('signing in by it alone', () => {
  test('lets its person in, with the count of the device kept', async () => {
    const phone = device()
    await add(phone.registers())
    expect(await enter(phone.signs('sign-in', { count: 7 }))).toMatchObject({ ok: true, value: { state: 'in', actor: { name: 'Owner' } } })
    expect(db.$client.prepare('SELECT sign_count FROM passkeys').pluck().get()).toBe(7)
    expect(passkeysOf(db, owner)[0]?.lastUsedAt).toBe(now.toISOString())
    // a copy of the key counts from an earlier number
    expect((await enter(phone.signs('sign-in', { count: 7 }))).ok).toBe(false)
    expect((await enter(phone.signs('sign-in', { count: 8 }))).ok).toBe(true)
  })
  test.each<[string, Told]>([
    ['without the device having made sure who holds it', { verified: false }],
    ['another origin', { origin: 'https://evil.example' }],
    ['another host name', { party: 'evil.example' }],
    ['a challenge for the second step', { purpose: 'second-step' }],
    ['a challenge that is not ours', { challenge: b64(randomBytes(62)) }],
    ['an answer of another kind', { type: 'webauthn.create' }],
    ['the signature of another key', { signer: generateKeyPairSync('ec', { namedCurve: 'P-256' }).privateKey }],
  ])('refused: %s', async (_, told) => {
    const phone = device()
    await add(phone.registers())
    expect(await enter(phone.signs('sign-in', told))).toMatchObject({ ok: false, refusals: [{ code: 'passkey-not-right' }] })
    expect(db.$client.prepare('SELECT count(*) FROM sessions').pluck().get()).toBe(0)
    expect(db.$client.prepare('SELECT kind FROM security_events ORDER BY id').pluck().all()).toContain('sign-in-refused')
  })
  test('refused: a key nobody has, one of another host name, and of somebody who may not come in', async () => {
    expect((await enter(device().signs('sign-in'))).ok).toBe(false)
    const phone = device()
    await add(phone.registers())
    expect(
      (await enter(phone.signs('sign-in', { party: 'other.example' }), { id: 'other.example', origin: 'https://garden.example' })).ok,
    ).toBe(false)
    db.$client.prepare("UPDATE people SET disabled_at = '2026-11-25'").run()
    expect((await enter(phone.signs('sign-in'))).ok).toBe(false)
  })
})

describe('after the password', () => {
  test('is asked for, and lets in without the device asking who holds it; the ticket works once', async () => {
    const phone = device()
    await add(phone.registers())
    const ticket = await ticketOf()
    const step = (answer: string) => signInWithPasskeyToo(db, clock, { ticket, answer, party, from, takes: takes('second-step') })
    expect((await step(phone.signs('second-step', { verified: false }))).ok).toBe(true)
    expect(await step(phone.signs('second-step'))).toMatchObject({ ok: false, refusals: [{ code: 'sign-in-over' }] })
  })
  test('another person’s passkey is not taken', async () => {
    const phone = device()
    await add(phone.registers())
    const other = '01900000-0000-7000-8000-000000000009'
    db.$client
      .prepare(
        "INSERT INTO people (id, household_id, name, name_folded, password_hash, recorded_at) VALUES (?, ?, 'Sam', 'sam', 'scrypt$none', 'x')",
      )
      .run(other, owner.householdId)
    const key = device()
    await addPasskey(
      db,
      clock,
      { ...owner, personId: other, name: 'Sam' },
      { answer: key.registers(), party, name: 'Key', takes: takes('register') },
    )
    const ticket = await ticketOf()
    const answer = key.signs('second-step')
    expect((await signInWithPasskeyToo(db, clock, { ticket, answer, party, from, takes: takes('second-step') })).ok).toBe(false)
  })
  test('a recovery code lets in once where the passkey is lost', async () => {
    const added = await add(device().registers())
    const [code = ''] = added.ok ? added.value.recoveryCodes : []
    expect(signInWithCode(db, clock, { ticket: await ticketOf(), code, from }).ok).toBe(true)
    expect(signInWithCode(db, clock, { ticket: await ticketOf(), code, from }).ok).toBe(false)
  })
  test('removed, the password alone lets in again, and its recovery codes are gone', async () => {
    await add(device().registers())
    const [one] = passkeysOf(db, owner)
    expect(renamePasskey(db, owner, one?.id as string, 'Old phone')).toEqual({ ok: true, value: { name: 'Old phone' } })
    const stranger = { ...owner, personId: '01900000-0000-7000-8000-000000000009' }
    expect(removePasskey(db, clock, stranger, one?.id as string).ok).toBe(false)
    expect(renamePasskey(db, stranger, one?.id as string, 'Mine').ok).toBe(false)
    expect(removePasskey(db, clock, owner, one?.id as string).ok).toBe(true)
    expect(await signIn(db, clock, { name: 'Owner', password: PASSWORD })).toMatchObject({ ok: true, value: { state: 'in' } })
    expect(db.$client.prepare('SELECT count(*) FROM recovery_codes').pluck().get()).toBe(0)
  })
})
