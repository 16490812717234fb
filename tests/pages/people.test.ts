/** Who may do what, and how one gets in: roles, invitations, second factor, sessions, and guessing. */
import { Secret, TOTP } from 'otpauth'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { buildApp } from '../../server/app.ts'
import type { Clock } from '../../server/records/clock.ts'
import { type Db, openDatabase } from '../../server/records/database.ts'
import { createOwner } from '../../server/records/people.ts'
import { createVehicle } from '../../server/records/vehicles.ts'
import { PASSWORD, tokenIn } from './book.ts'

type App = Awaited<ReturnType<typeof buildApp>>
let db: Db
let app: App
let now = new Date('2026-11-25T12:00:00Z')
const clock: Clock = { now: () => now }
const later = (minutes: number) => {
  now = new Date(now.getTime() + minutes * 60_000)
}

beforeEach(async () => {
  now = new Date('2026-11-25T12:00:00Z')
  db = openDatabase(':memory:')
  const owner = createOwner(db, clock, { name: 'Owner', password: PASSWORD })
  if (!owner.ok) throw new Error('no owner')
  createVehicle(db, clock, owner.value, { name: 'Fern', systemVoltage_V: 12 })
  app = await buildApp({ db, clock, config: { data: '', host: '127.0.0.1', port: 0, timeZone: 'UTC' } })
})
afterEach(() => app.close())

/** A browser of one's own: it keeps its cookies. */
function browser(given: { readonly address?: string } = {}) {
  const cookies = new Map<string, string>()
  const keep = (reply: { headers: Record<string, unknown> }) => {
    for (const line of [reply.headers['set-cookie'] ?? []].flat() as string[]) {
      const [, name, value] = /^([^=]+)=([^;]*)/.exec(line) as RegExpExecArray
      if (value === '') cookies.delete(name as string)
      else cookies.set(name as string, value as string)
    }
  }
  const headers = () => ({ cookie: [...cookies].map(([name, value]) => `${name}=${value}`).join('; ') })
  const get = async (url: string) => {
    const reply = await app.inject({ url, headers: headers(), remoteAddress: given.address ?? '127.0.0.1' })
    keep(reply)
    return reply
  }
  const post = async (
    url: string,
    fields: Record<string, string>,
    more: { readonly from?: string; readonly headers?: Record<string, string> } = {},
  ) => {
    const token = tokenIn((await get(more.from ?? (cookies.has('loombook_session') ? '/' : '/login'))).body)
    const reply = await app.inject({
      method: 'POST',
      url,
      headers: { ...headers(), 'content-type': 'application/x-www-form-urlencoded', ...more.headers },
      payload: new URLSearchParams({ _token: token, ...fields }).toString(),
      remoteAddress: given.address ?? '127.0.0.1',
    })
    keep(reply)
    return reply
  }
  const signIn = (name = 'Owner', password = PASSWORD) => post('/sessions', { name, password })
  return { get, post, signIn, cookies }
}

async function joined(role: string, name: string) {
  const owner = browser()
  await owner.signIn()
  const made = await owner.post('/people/invitations', { role })
  const link = new URL(/<p class="mono">([^<]+)<\/p>/.exec(made.body)?.[1] as string).pathname
  const guest = browser()
  const reply = await guest.post(link, { name, password: 'quite a few words' }, { from: link })
  return { owner, guest, link, reply }
}

const rows = (table: string) => db.$client.prepare(`SELECT count(*) FROM ${table}`).pluck().get()

describe('an invitation', () => {
  test('lets one person in, once, and is kept as a hash', async () => {
    const { guest, link, reply } = await joined('editor', 'Sam')
    expect([reply.statusCode, reply.headers.location]).toEqual([303, '/login'])
    expect((await guest.signIn('sam', 'quite a few words')).statusCode).toBe(303)
    expect((await guest.get('/')).body).toContain('Fern')
    expect((await browser().get(link)).statusCode).toBe(404)
    expect(JSON.stringify(db.$client.prepare('SELECT * FROM invitations').all())).not.toContain(link.split('/').at(-1))
  })
  test('taken back or too old it answers as one that never was', async () => {
    const owner = browser()
    await owner.signIn()
    const linkOf = (body: string) => new URL(/<p class="mono">([^<]+)<\/p>/.exec(body)?.[1] as string).pathname
    const first = linkOf((await owner.post('/people/invitations', { role: 'viewer' })).body)
    const id = /people\/invitations\/([0-9a-f]+)\/revocations/.exec((await owner.get('/people')).body)?.[1]
    expect((await owner.post(`/people/invitations/${id}/revocations`, {})).statusCode).toBe(303)
    const second = linkOf((await owner.post('/people/invitations', { role: 'viewer' })).body)
    later(8 * 24 * 60)
    const [gone, old, never] = await Promise.all([first, second, '/join/nothing'].map((url) => browser().get(url)))
    for (const reply of [gone, old, never]) expect(reply?.statusCode).toBe(404)
  })
  test('works only while whoever made it is an owner who may come in', async () => {
    const { owner, guest: second } = await joined('owner', 'Second')
    await second.signIn('Second', 'quite a few words')
    const linkOf = (body: string) => new URL(/<p class="mono">([^<]+)<\/p>/.exec(body)?.[1] as string).pathname
    const link = linkOf((await second.post('/people/invitations', { role: 'owner' })).body)
    const id = db.$client.prepare("SELECT id FROM people WHERE name = 'Second'").pluck().get()
    expect((await browser().get(link)).statusCode).toBe(200)
    const listed = async () => (await owner.get('/people')).body.includes('/people/invitations/')
    expect(await listed()).toBe(true)
    for (const [url, shut, back] of [
      [`/people/${id}/access`, { access: 'closed' }, { access: 'open' }],
      [`/people/${id}/roles`, { role: 'editor' }, { role: 'owner' }],
    ] as const) {
      await owner.post(url, shut)
      expect([(await browser().get(link)).statusCode, await listed()], url).toEqual([404, false])
      const reply = await browser().post(link, { name: 'Third', password: 'quite a few words' })
      expect([reply.statusCode, rows('people')], url).toEqual([404, 2])
      await owner.post(url, back)
    }
  })
  test('two at the same moment: one is let in', async () => {
    const owner = browser()
    await owner.signIn()
    const made = await owner.post('/people/invitations', { role: 'viewer' })
    const link = new URL(/<p class="mono">([^<]+)<\/p>/.exec(made.body)?.[1] as string).pathname
    const both = await Promise.all(
      ['Ann', 'Ben'].map((name) => browser().post(link, { name, password: 'quite a few words' }, { from: link })),
    )
    expect(both.map((reply) => reply.statusCode).sort()).toEqual([303, 404])
    expect(rows('people')).toBe(2)
  })
})

describe('a role (B4)', () => {
  test('a viewer sees, and every write is refused; extra fields change nothing', async () => {
    const { guest } = await joined('viewer', 'Vera')
    await guest.signIn('Vera', 'quite a few words')
    const page = await guest.get('/')
    expect(page.body).toContain('Fern')
    const vehicle = /href="(\/vehicles\/[0-9a-f-]{36})"/.exec(page.body)?.[1] as string
    for (const url of ['/vehicles', `${vehicle}/entries`, '/shelf', '/demonstration', `${vehicle}/fuse-box`]) {
      const reply = await guest.post(url, {
        name: 'X',
        systemVoltage_V: '12',
        role: 'owner',
        household_id: '2',
        __proto__: 'x',
        constructor: 'x',
      })
      expect(reply.statusCode, url).toBe(403)
    }
    for (const url of ['/people', '/security']) expect((await guest.get(url)).statusCode, url).toBe(403)
    expect((await guest.post('/people/invitations', { role: 'owner' })).statusCode).toBe(403)
    expect([rows('vehicles'), rows('invitations')]).toEqual([1, 1])
    expect(db.$client.prepare("SELECT role FROM people WHERE name = 'Vera'").pluck().get()).toBe('viewer')
  })
  test('an editor writes, and manages nobody', async () => {
    const { guest } = await joined('editor', 'Ed')
    await guest.signIn('Ed', 'quite a few words')
    expect((await guest.post('/vehicles', { name: 'Moss', systemVoltage_V: '12' })).statusCode).toBe(303)
    expect((await guest.get('/people')).statusCode).toBe(403)
  })
  test('the last owner stays one', async () => {
    const { owner } = await joined('editor', 'Ed')
    const [self] = db.$client.prepare("SELECT id FROM people WHERE name = 'Owner'").pluck().all() as string[]
    const reply = await owner.post(`/people/${self}/roles`, { role: 'viewer' })
    expect(reply.statusCode).toBe(409)
    expect(reply.body).toContain('needs an owner')
  })
  test('the door closed to someone ends their sessions at once (B6)', async () => {
    const { owner, guest } = await joined('editor', 'Ed')
    await guest.signIn('Ed', 'quite a few words')
    const [ed] = db.$client.prepare("SELECT id FROM people WHERE name = 'Ed'").pluck().all() as string[]
    expect((await owner.post(`/people/${ed}/access`, { access: 'closed' })).statusCode).toBe(303)
    expect((await guest.get('/')).headers.location).toMatch(/^\/login/)
    expect((await browser().signIn('Ed', 'quite a few words')).statusCode).toBe(422)
    expect((await owner.post(`/people/${ed}/access`, { access: 'open' })).statusCode).toBe(303)
    expect((await browser().signIn('Ed', 'quite a few words')).statusCode).toBe(303)
  })
  test('another household’s people answer as if absent (B3)', async () => {
    const owner = browser()
    await owner.signIn()
    const reply = await owner.post('/people/00000000-0000-7000-8000-000000000000/roles', { role: 'owner' })
    expect(reply.statusCode).toBe(404)
  })
})

describe('a second factor', () => {
  const codeNow = (secret: string) =>
    new TOTP({ secret: Secret.fromBase32(secret), digits: 6, period: 30 }).generate({ timestamp: now.getTime() })
  const setUp = async () => {
    const owner = browser()
    await owner.signIn()
    const secret = /name="secret" value="([A-Z2-7]{32})"/.exec((await owner.get('/account/second-factor')).body)?.[1] as string
    const reply = await owner.post('/account/second-factor', { secret, code: codeNow(secret) })
    const codes = [...reply.body.matchAll(/<li>([0-9a-f]{16})<\/li>/g)].map((found) => found[1] as string)
    return { owner, secret, codes }
  }
  const step = async (visitor: ReturnType<typeof browser>, code: (secret: string) => string, secret: string) => {
    const first = await visitor.signIn()
    const ticket = /name="ticket" value="([^"]+)"/.exec(first.body)?.[1] as string
    return visitor.post('/sessions/second-factor', { ticket, code: code(secret) })
  }

  test('is asked for after the password; a code works once', async () => {
    const { secret, codes } = await setUp()
    expect(codes).toHaveLength(8)
    later(1)
    const visitor = browser()
    expect((await visitor.signIn()).body).toContain('The first step is done')
    expect((await visitor.get('/')).headers.location).toMatch(/^\/login/)
    expect((await step(visitor, codeNow, secret)).statusCode).toBe(303)
    expect((await step(browser(), codeNow, secret)).statusCode).toBe(422)
    later(1)
    expect((await step(browser(), codeNow, secret)).statusCode).toBe(303)
  })
  test('a wrong code, and five of them end the ticket', async () => {
    const { secret } = await setUp()
    later(1)
    const visitor = browser()
    const ticket = /name="ticket" value="([^"]+)"/.exec((await visitor.signIn()).body)?.[1] as string
    const wrong = String((Number(codeNow(secret)) + 1) % 1_000_000).padStart(6, '0')
    for (let n = 0; n < 5; n++) expect((await visitor.post('/sessions/second-factor', { ticket, code: wrong })).statusCode).toBe(422)
    expect((await visitor.post('/sessions/second-factor', { ticket, code: codeNow(secret) })).statusCode).toBe(401)
  })
  test('a recovery code works once', async () => {
    const { secret, codes } = await setUp()
    const code = codes[0] as string
    expect((await step(browser(), () => code, secret)).statusCode).toBe(303)
    expect((await step(browser(), () => code, secret)).statusCode).toBe(422)
    expect(JSON.stringify(db.$client.prepare('SELECT * FROM recovery_codes').all())).not.toContain(code)
  })
  // RFC 6238 appendix B: with the ASCII secret 12345678901234567890, at 59 s the code of 8 digits is 94287082: of 6 digits 287082.
  test('the codes are those of RFC 6238', async () => {
    const secret = Secret.fromUTF8('12345678901234567890').base32
    now = new Date(59_000)
    const { setSecondFactor } = await import('../../server/records/second-factor.ts')
    const [person] = db.$client.prepare('SELECT id, household_id, name FROM people').all() as {
      id: string
      household_id: string
      name: string
    }[]
    const actor = { householdId: person?.household_id as string, personId: person?.id as string, name: 'Owner' }
    expect(setSecondFactor(db, clock, actor, { secret, code: '287083' }).ok).toBe(false)
    expect(setSecondFactor(db, clock, actor, { secret, code: '287082' }).ok).toBe(true)
  })
})

describe('passwords and sessions', () => {
  test.each(['short', 'password', 'PASSWORD1', 'football', '12345678', 'x'.repeat(1001), 'Owner-2026!', 'loombook123'])(
    '%s is not taken',
    async (next) => {
      const owner = browser()
      await owner.signIn()
      expect((await owner.post('/account/passwords', { present: PASSWORD, next })).statusCode).toBe(422)
      expect((await browser().signIn()).statusCode).toBe(303)
    },
  )
  test('64 letters and more, spaces and any script are taken whole', async () => {
    const owner = browser()
    await owner.signIn()
    const next = `Grüße aus der Werkstatt, ${'日本語 '.repeat(20)}`
    expect((await owner.post('/account/passwords', { present: PASSWORD, next })).statusCode).toBe(200)
    expect((await browser().signIn('Owner', next)).statusCode).toBe(303)
    expect((await browser().signIn('Owner', next.slice(0, -2))).statusCode).toBe(422)
  })
  test('a changed password ends every other session; a session planted before sign-in is not taken over (B6)', async () => {
    const [one, other] = [browser(), browser()]
    await one.signIn()
    await other.signIn()
    await one.post('/account/passwords', { present: PASSWORD, next: 'another few words' })
    expect((await other.get('/')).headers.location).toMatch(/^\/login/)
    expect((await one.get('/')).statusCode).toBe(200)
    const planted = browser()
    planted.cookies.set('loombook_session', 'planted-before-sign-in')
    await planted.post('/sessions', { name: 'Owner', password: 'another few words' }, { from: '/login' })
    expect(planted.cookies.get('loombook_session')).not.toBe('planted-before-sign-in')
  })
  test('sessions are listed and ended', async () => {
    const [one, other] = [browser(), browser()]
    await one.signIn()
    await other.signIn()
    const id = /account\/sessions\/([0-9a-f]{16})\/ends/.exec((await one.get('/account')).body)?.[1]
    expect((await one.post(`/account/sessions/${id}/ends`, {})).statusCode).toBe(303)
    expect((await other.get('/')).headers.location).toMatch(/^\/login/)
    expect((await one.get('/account')).body).not.toContain('End it')
  })
  test('what matters asks for the password again after a while, and keeps nothing until then', async () => {
    const owner = browser()
    await owner.signIn()
    later(20)
    const sent = await owner.post('/people/invitations', { role: 'viewer' })
    expect(sent.headers.location).toBe('/confirm?next=%2Fpeople%3Fpress%3Dconfirmed')
    expect(rows('invitations')).toBe(0)
    expect((await owner.post('/confirm', { password: 'not mine', next: '/people' })).statusCode).toBe(422)
    expect((await owner.post('/confirm', { password: PASSWORD, next: '/people' })).headers.location).toBe('/people')
    expect((await owner.post('/people/invitations', { role: 'viewer' })).statusCode).toBe(201)
  })
  test('unused for a month it is over', async () => {
    const owner = browser()
    await owner.signIn()
    later(31 * 24 * 60)
    expect((await owner.get('/')).headers.location).toMatch(/^\/login/)
  })
})

describe('guessing (B5)', () => {
  test('from one address: held back with the time to wait; a header that claims another address changes nothing', async () => {
    const guesser = browser({ address: '203.0.113.7' })
    const token = tokenIn((await guesser.get('/login')).body)
    expect(token).not.toBe('')
    let last = await guesser.signIn('Owner', 'wrong word 0')
    for (let n = 1; n < 20; n++)
      last = await guesser.post(
        '/sessions',
        { name: 'Owner', password: `wrong ${n}` },
        { headers: { 'x-forwarded-for': `198.51.100.${n}` } },
      )
    expect(last.statusCode).toBe(429)
    expect(Number(last.headers['retry-after'])).toBeGreaterThan(0)
    expect((await guesser.signIn()).statusCode).toBe(429)
    later(16)
    expect((await guesser.signIn()).statusCode).toBe(303)
  })
  test('from many addresses at one name: held back, and a device that was here before still gets in', async () => {
    const owner = browser()
    await owner.signIn()
    await owner.post('/sessions/end', {})
    for (let n = 0; n < 12; n++) await browser({ address: `198.51.100.${n}` }).signIn('Owner', 'wrong word')
    expect((await browser({ address: '192.0.2.1' }).signIn()).statusCode).toBe(429)
    expect((await owner.signIn()).statusCode).toBe(303)
  })
  test('a name that nobody has is answered in the same words', async () => {
    // but for what is random in every page
    const plain = (body: string) => body.replace(/value="[^"]*"|challenge&quot;:&quot;[^&]*/g, '')
    const [known, unknown] = [await browser().signIn('Owner', 'wrong word'), await browser().signIn('Nobody', 'wrong word')]
    expect(plain(unknown.body)).toBe(plain(known.body))
    expect(unknown.statusCode).toBe(known.statusCode)
  })
  test('each refusal stands in the log of what concerns security, on one line and without the password', async () => {
    await browser().signIn('Own\u0000er\r\n{"level":"info"}', 'wrong word')
    const owner = browser()
    await owner.signIn()
    const page = (await owner.get('/security')).body
    expect(page).toContain('Sign-in refused')
    expect(page).not.toContain('wrong word')
    expect(
      db.$client
        .prepare('SELECT says FROM security_events')
        .pluck()
        .all()
        .every((says) => !/[\r\n\0]/.test(String(says))),
    ).toBe(true)
  })
})

describe('after sign-in (B7)', () => {
  test.each([
    '//evil.example',
    '/\\evil.example',
    'https:evil.example',
    '%2f%2fevil.example',
    'javascript:alert(1)',
    '/%2fevil.example',
    ' //evil',
  ])('next=%s leads home', async (next) => {
    const reply = await browser().post('/sessions', { name: 'Owner', password: PASSWORD, next })
    expect(reply.headers.location).toBe('/')
  })
})

describe('addresses that change something (B2)', () => {
  test('answer nothing to GET', async () => {
    const owner = browser()
    await owner.signIn()
    for (const url of [
      '/sessions/end',
      '/account/sessions/ends',
      '/account/passwords',
      '/people/invitations',
      '/account/second-factor/removals',
    ])
      expect([404, 405], url).toContain((await owner.get(url)).statusCode)
    expect((await owner.get('/')).statusCode).toBe(200)
  })
})
