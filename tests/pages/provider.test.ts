/** Sign-in by a provider of identities, against one of our own: OpenID Connect Core 3.1, tokens signed by hand (RFC 7515, RS256). */
import { Secret, TOTP } from 'otpauth'
import { createHash, createSign, generateKeyPairSync, type KeyObject } from 'node:crypto'
import { createServer, type Server } from 'node:http'
import type { AddressInfo } from 'node:net'
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest'
import { buildApp } from '../../server/app.ts'
import type { Clock } from '../../server/records/clock.ts'
import { type Db, openDatabase } from '../../server/records/database.ts'
import { createOwner } from '../../server/records/people.ts'
import { PASSWORD } from './book.ts'
import { visitor } from './visitor.ts'

const keys = generateKeyPairSync('rsa', { modulusLength: 2048 })
const others = generateKeyPairSync('rsa', { modulusLength: 2048 })
const b64 = (value: unknown) => Buffer.from(typeof value === 'string' ? value : JSON.stringify(value)).toString('base64url')

/** What the provider says the next time, and what it was asked. */
let says: { claims: Record<string, unknown>; header: Record<string, unknown>; key: KeyObject | null; isDown: boolean; isSilent: boolean }
let asked: URLSearchParams
let authorized = ''
let server: Server
let issuer = ''

beforeAll(async () => {
  server = createServer(async (request, reply) => {
    const send = (body: unknown, status = 200) => reply.writeHead(status, { 'content-type': 'application/json' }).end(JSON.stringify(body))
    if (says.isDown) return request.socket.destroy()
    if (says.isSilent) return
    if (request.url === '/.well-known/openid-configuration')
      return send({
        issuer,
        authorization_endpoint: `${issuer}/authorize`,
        token_endpoint: `${issuer}/token`,
        jwks_uri: `${issuer}/keys`,
        response_types_supported: ['code'],
        subject_types_supported: ['public'],
        // One that offers no signature at all: it is not taken up on that.
        id_token_signing_alg_values_supported: ['RS256', 'none'],
        token_endpoint_auth_methods_supported: ['client_secret_basic'],
      })
    if (request.url === '/keys')
      return send({ keys: [{ ...keys.publicKey.export({ format: 'jwk' }), kid: 'k1', alg: 'RS256', use: 'sig' }] })
    if (request.url !== '/token') return send({ error: 'not_found' }, 404)
    let body = ''
    for await (const piece of request) body += piece
    asked = new URLSearchParams(body)
    authorized = request.headers.authorization ?? ''
    const open = `${b64({ alg: 'RS256', kid: 'k1', typ: 'JWT', ...says.header })}.${b64(says.claims)}`
    const seal = says.key === null ? '' : createSign('sha256').update(open).sign(says.key).toString('base64url')
    return send({ access_token: 'unused', token_type: 'Bearer', expires_in: 60, id_token: `${open}.${seal}` })
  })
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
  issuer = `http://127.0.0.1:${(server.address() as AddressInfo).port}`
})
afterAll(() => new Promise((resolve) => server.close(resolve)))

let db: Db
let app: Awaited<ReturnType<typeof buildApp>>
let ahead_ms = 0
const clock: Clock = { now: () => new Date(Date.now() + ahead_ms) }
const open = async (linksByEmail: boolean) => {
  db = openDatabase(':memory:')
  if (!createOwner(db, clock, { name: 'Owner', password: PASSWORD }).ok) throw new Error('no owner')
  const provider = { issuer, clientId: 'loom', clientSecret: 's:ecret', name: 'House Keys', linksByEmail }
  app = await buildApp({ db, clock, config: { data: '', host: '127.0.0.1', port: 0, timeZone: 'UTC', provider } })
}
beforeEach(async () => {
  says = { claims: {}, header: {}, key: keys.privateKey, isDown: false, isSilent: false }
  ahead_ms = 0
  await open(false)
})
afterEach(() => app.close())

type Visitor = ReturnType<typeof visitor>
type Change = { claims?: Record<string, unknown>; header?: Record<string, unknown>; key?: KeyObject | null; query?: Record<string, string> }

const [DOOR, ACCOUNT] = ['/login?next=/shelf', '/account']
/** The provider's button on a page, pressed. */
async function press(browser: Visitor, page: string) {
  return browser.get(buttonOn((await browser.get(page)).body))
}
function buttonOn(body: string): string {
  const [, link = ''] = /href="(\/(?:sessions\/provider|account\/identities\/new)\?[^"]+)"/.exec(body) ?? []
  return link.replaceAll('&amp;', '&')
}

/** Off to the provider from the page `at`, and back with what it says; `change` is what is wrong with it. */
async function through(browser: Visitor, change: Change = {}, at = DOOR) {
  const away = new URL((await press(browser, at)).headers.location as string)
  const sent = Object.fromEntries(away.searchParams)
  const now_s = Math.floor(Date.now() / 1000)
  const own = { iss: issuer, sub: 'u-1', aud: 'loom', iat: now_s, exp: now_s + 60, nonce: sent.nonce, preferred_username: 'robin' }
  Object.assign(says, {
    claims: { ...own, ...change.claims },
    header: change.header ?? {},
    key: change.key === undefined ? keys.privateKey : change.key,
  })
  const query = { code: 'c-1', state: sent.state as string, ...change.query }
  const reply = await browser.get(`/sessions/provider/return?${new URLSearchParams(query)}`)
  return { away, sent, reply }
}
const connected = async () => {
  const owner = visitor(app)
  await owner.signIn()
  expect((await through(owner, {}, ACCOUNT)).reply.headers.location).toBe('/account')
  return owner
}
const sessions = () => db.$client.prepare('SELECT count(*) FROM sessions').pluck().get()
const kinds = () => db.$client.prepare('SELECT kind FROM security_events ORDER BY id').pluck().all()

describe('a provider', () => {
  test('that is not configured has no address, no button and no place on the account’s page', async () => {
    const plain = await buildApp({ db, clock, config: { data: '', host: '127.0.0.1', port: 0, timeZone: 'UTC' } })
    const browser = visitor(plain)
    for (const url of ['/sessions/provider', '/sessions/provider/return?code=c&state=s'])
      expect((await browser.get(url)).statusCode).toBe(404)
    expect((await browser.get('/login')).body).not.toContain('/sessions/provider')
    await browser.signIn()
    expect((await browser.get('/account')).body).not.toContain('Connect an account')
    await plain.close()
  })
  test('is asked with a code flow, PKCE, state and nonce of this try alone; the code is exchanged with the secret in the header', async () => {
    await connected()
    const browser = visitor(app)
    const first = await through(browser)
    expect(first.away.origin + first.away.pathname).toBe(`${issuer}/authorize`)
    expect(first.sent).toMatchObject({
      response_type: 'code',
      client_id: 'loom',
      scope: 'openid email profile',
      code_challenge_method: 'S256',
      redirect_uri: 'http://localhost:80/sessions/provider/return',
    })
    // RFC 7636, 4.6
    expect(
      createHash('sha256')
        .update(asked.get('code_verifier') as string)
        .digest('base64url'),
    ).toBe(first.sent.code_challenge)
    expect(authorized).toBe(`Basic ${Buffer.from('loom:s%3Aecret').toString('base64')}`)
    const second = await through(visitor(app))
    for (const name of ['state', 'nonce', 'code_challenge']) expect(second.sent[name], name).not.toBe(first.sent[name])
  })
  test('that vouches for an account that was connected lets its person in, and on to where they were going', async () => {
    await connected()
    const browser = visitor(app)
    const { reply } = await through(browser)
    expect([reply.statusCode, reply.headers.location]).toEqual([303, '/shelf'])
    expect((await browser.get('/account')).body).toContain('robin')
    expect((await browser.get('/login')).headers.location).toBe('/')
  })
  test('does not stand for the password before what matters', async () => {
    await connected()
    const browser = visitor(app)
    await through(browser)
    expect((await browser.post('/people/invitations', { role: 'viewer' }, { from: '/people' })).headers.location).toBe(
      '/confirm?next=%2Fpeople%3Fpress%3Dconfirmed',
    )
  })
  test('still asks for a second factor', async () => {
    await connected()
    db.$client.prepare("UPDATE people SET second_factor = 'JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP'").run()
    const { reply } = await through(visitor(app))
    expect(reply.statusCode).toBe(200)
    expect(reply.body).toContain('Second step')
  })
  test('and a second factor does not stand for the password before what matters', async () => {
    await connected()
    const secret = 'JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP'
    db.$client.prepare('UPDATE people SET second_factor = ?').run(secret)
    const browser = visitor(app)
    const { reply } = await through(browser)
    const ticket = /name="ticket" value="([^"]+)"/.exec(reply.body)?.[1] ?? ''
    const code = new TOTP({ secret: Secret.fromBase32(secret) }).generate({ timestamp: app.clock.now().getTime() })
    const entered = await browser.post('/sessions/second-factor', { ticket, code, next: '/' })
    expect(entered.statusCode).toBe(303)
    expect((await browser.post('/people/invitations', { role: 'viewer' }, { from: '/people' })).headers.location).toBe(
      '/confirm?next=%2Fpeople%3Fpress%3Dconfirmed',
    )
  })
  // ASVS 6.8.4: what a provider says of how and when it asked counts for nothing, so that its word is never more than one factor.
  test('that says it asked twice, strongly and just now is believed no more than one that says nothing of it', async () => {
    await connected()
    const strong = { acr: 'phrh', amr: ['mfa', 'otp', 'hwk'], auth_time: Math.floor(Date.now() / 1000) }
    const browser = visitor(app)
    await through(browser, { claims: strong })
    expect((await browser.get('/account/second-factor')).headers.location).toBe('/confirm?next=%2Faccount%2Fsecond-factor')
    db.$client.prepare("UPDATE people SET second_factor = 'JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP'").run()
    expect((await through(visitor(app), { claims: strong })).reply.body).toContain('Second step')
  })
  // ASVS 7.6.1: an account closed there is of no use here after a week; one who gave the password stays as long as before.
  test('is asked again after a week, however often the session was used', async () => {
    const owner = await connected()
    const browser = visitor(app)
    await through(browser)
    for (let day = 1; day < 7; day++) {
      ahead_ms = day * 86_400_000
      expect((await browser.get('/account')).statusCode, `day ${day}`).toBe(200)
      expect((await owner.get('/account')).statusCode, `day ${day}`).toBe(200)
    }
    ahead_ms = 7 * 86_400_000 + 1000
    expect((await browser.get('/account')).headers.location).toMatch(/^\/login/)
    expect((await owner.get('/account')).statusCode).toBe(200)
  })
  // Until a week was written into the row, it named ninety days from the beginning for everybody.
  test('is asked again after a week in a session from before that was so, unless the password was given in it since', async () => {
    await connected()
    const [browser, confirmed] = [visitor(app), visitor(app)]
    for (const one of [browser, confirmed]) await through(one)
    await confirmed.post('/confirm', { password: PASSWORD, next: '/' }, { from: '/confirm' })
    const in90days = new Date(clock.now().getTime() + 90 * 86_400_000).toISOString()
    expect(db.$client.prepare('UPDATE sessions SET expires_at = ?').run(in90days).changes).toBe(3)
    ahead_ms = 7 * 86_400_000 - 60_000
    for (const one of [browser, confirmed]) expect((await one.get('/account')).statusCode).toBe(200)
    ahead_ms = 7 * 86_400_000 + 1000
    expect((await browser.get('/account')).headers.location).toMatch(/^\/login/)
    expect((await confirmed.get('/account')).statusCode).toBe(200)
  })
  // ASVS 7.6.2
  test('is asked only where its button here was pressed, once, by this browser', async () => {
    await connected()
    const [browser, another] = [visitor(app), visitor(app)]
    const door = '/login?next=%2Fshelf&press=too-old'
    for (const url of [
      '/sessions/provider?next=/shelf',
      '/sessions/provider?next=/shelf&pressed=',
      '/sessions/provider?next=/shelf&pressed=x',
    ])
      expect((await browser.get(url)).headers.location, url).toBe(door)
    const link = /href="(\/sessions\/provider\?[^"]+)"/.exec((await another.get(DOOR)).body)?.[1]?.replaceAll('&amp;', '&') as string
    expect((await browser.get(link)).headers.location, 'another’s').toBe(door)
    expect(new URL((await another.get(link)).headers.location as string).origin).toBe(issuer)
    expect((await another.get(link)).headers.location, 'twice').toBe(door)
    expect(sessions()).toBe(1)
  })
  test('connects no account where its button was not pressed, were the password given just now', async () => {
    const owner = visitor(app)
    await owner.signIn()
    for (const url of ['/account/identities/new', '/account/identities/new?pressed=x'])
      expect((await owner.get(url)).headers.location, url).toBe('/account?press=too-old')
    expect(db.$client.prepare('SELECT count(*) FROM identities').pluck().get()).toBe(0)
  })
  test('says so where its button was pressed too late, and the button beside that sentence is a new one', async () => {
    await connected()
    const browser = visitor(app)
    const old = buttonOn((await browser.get(DOOR)).body)
    ahead_ms = 5 * 60_000 + 1000
    const led = (await browser.get(old)).headers.location as string
    expect((await browser.get(DOOR)).body).not.toContain('role="status">That button')
    expect((await browser.get(led)).body).toContain('role="status">That button was too old: press it once more.</p>')
    expect(new URL((await press(browser, led)).headers.location as string).origin).toBe(issuer)
  })
  test('says on the account’s page that a button was too old, or is to be pressed again after the password', async () => {
    const owner = await connected()
    const old = buttonOn((await owner.get(ACCOUNT)).body)
    ahead_ms = 5 * 60_000 + 1000
    const tooLate = (await owner.get(old)).headers.location as string
    expect((await owner.get(tooLate)).body).toContain('role="status">That button was too old: press it once more.</p>')
    ahead_ms = 15 * 60_000 + 1000
    const asked = (await press(owner, ACCOUNT)).headers.location as string
    const next = /name="next" value="([^"]+)"/.exec((await owner.get(asked)).body)?.[1] ?? ''
    const confirmed = (await owner.post('/confirm', { password: PASSWORD, next }, { from: asked })).headers.location as string
    expect((await owner.get(confirmed)).body).toContain('role="status">Your password is confirmed: press the button once more.</p>')
    expect(new URL((await press(owner, confirmed)).headers.location as string).origin).toBe(issuer)
  })
  test('says nothing there that an address made up elsewhere puts in', async () => {
    const browser = visitor(app)
    for (const word of ['Pay+here', 'constructor', '__proto__', 'too-old&press=x'])
      expect((await browser.get(`/login?press=${word}`)).body, word).not.toContain('class="note" role="status"')
  })
  // ASVS 10.5.5
  test('ends no session here: there is no address that a provider’s word to sign out could go to', async () => {
    const before = app.answered.map((one) => one.url).filter((url) => /log-?out|sign-?out|provider/.test(url))
    expect([...new Set(before)]).toEqual(['/sessions/provider', '/sessions/provider/return'])
  })
  test('that is silent is waited for no longer than ten seconds, and said to be away', { timeout: 60_000 }, async () => {
    const browser = visitor(app)
    const silent = async (url: () => ReturnType<typeof press>) => {
      const began = performance.now()
      const reply = await url()
      const took_ms = performance.now() - began
      expect(reply.statusCode).toBe(503)
      expect(took_ms).toBeGreaterThan(9000)
      expect(took_ms).toBeLessThan(15_000)
      return reply.body
    }
    says.isSilent = true
    expect(await silent(() => press(browser, DOOR))).toContain('Sign in with your password')
    says.isSilent = false
    const away = new URL((await press(browser, DOOR)).headers.location as string)
    says.isSilent = true
    const back = `/sessions/provider/return?code=c-1&state=${away.searchParams.get('state')}`
    expect(await silent(() => browser.get(back))).toContain('did not answer. Try again.')
  })
  test('that does not answer is said to be away, and is asked again the next time', async () => {
    says.isDown = true
    const browser = visitor(app)
    const reply = await press(browser, DOOR)
    expect(reply.statusCode).toBe(503)
    expect(reply.body).toContain('Sign in with your password')
    says.isDown = false
    expect(new URL((await press(browser, DOOR)).headers.location as string).origin).toBe(issuer)
  })
  test('let go lets nobody in any more', async () => {
    const owner = await connected()
    const id = /identities\/([0-9a-f]{16})\/removals/.exec((await owner.get('/account')).body)?.[1]
    expect((await owner.post(`/account/identities/${id}/removals`, {}, { from: '/account' })).statusCode).toBe(303)
    expect((await through(visitor(app))).reply.statusCode).toBe(403)
    expect(kinds()).toContain('identity-removed')
  })
})

describe('B32: what does not stand lets nobody in', () => {
  test.each<[string, Change]>([
    ['another state', { query: { state: 'x'.repeat(43) } }],
    ['another nonce', { claims: { nonce: 'x'.repeat(43) } }],
    ['no nonce', { claims: { nonce: undefined } }],
    ['no audience', { claims: { aud: undefined } }],
    ['another audience', { claims: { aud: 'somebody-else' } }],
    ['several audiences and another authorised party', { claims: { aud: ['loom', 'x'], azp: 'x' } }],
    ['another issuer', { claims: { iss: 'https://evil.example' } }],
    ['another issuer in the answer itself', { query: { iss: 'https://evil.example' } }],
    ['algorithm none', { header: { alg: 'none' }, key: null }],
    ['algorithm none, with a signature', { header: { alg: 'none' } }],
    ['a shared-key algorithm', { header: { alg: 'HS256' } }],
    ['another’s signature', { key: others.privateKey }],
    ['no signature', { key: null }],
    ['a token that is over', { claims: { exp: Math.floor(Date.now() / 1000) - 3600 } }],
    ['no subject', { claims: { sub: undefined } }],
    ['a refusal', { query: { error: 'access_denied' } }],
  ])('%s', async (_, change) => {
    await connected()
    const before = sessions()
    const browser = visitor(app)
    const { reply } = await through(browser, change)
    expect(reply.statusCode).toBe(400)
    expect(reply.body).toContain('start again')
    expect(sessions()).toBe(before)
    expect((await browser.get('/')).headers.location).toMatch(/^\/login/)
  })
  test('an answer that belongs to another browser, or comes twice', async () => {
    await connected()
    const browser = visitor(app)
    const away = new URL((await press(browser, DOOR)).headers.location as string)
    const back = `/sessions/provider/return?code=c-1&state=${away.searchParams.get('state')}`
    expect((await visitor(app).get(back)).statusCode).toBe(400)
    const { reply, sent } = await through(browser)
    expect(reply.statusCode).toBe(303)
    expect((await browser.get(`/sessions/provider/return?code=c-1&state=${sent.state}`)).statusCode).toBe(400)
  })
  test('a try that somebody else began, its cookie planted by a neighbour of this site: nothing is connected, nobody comes in', async () => {
    const owner = await connected()
    const [known] = db.$client.prepare('SELECT id FROM people').pluck().all() as [string]
    const thief = visitor(app)
    const away = new URL((await press(thief, DOOR)).headers.location as string)
    const [flow = '', ...rest] = (thief.cookies.get('loombook_flow') as string).split('.')
    const begun = JSON.parse(Buffer.from(flow, 'base64url').toString('utf8')) as Record<string, unknown>
    const forged = [b64({ ...begun, connects: known, next: '/account' }), ...rest].join('.')
    const now_s = Math.floor(Date.now() / 1000)
    const nonce = away.searchParams.get('nonce')
    says.claims = { iss: issuer, sub: 'u-thief', aud: 'loom', iat: now_s, exp: now_s + 60, nonce, preferred_username: 'thief' }
    const back = `/sessions/provider/return?code=c-9&state=${away.searchParams.get('state')}`
    for (const [victim, cookie] of [
      [owner, forged],
      [owner, thief.cookies.get('loombook_flow') as string],
      [visitor(app), thief.cookies.get('loombook_flow') as string],
    ] as const) {
      victim.cookies.set('loombook_flow', cookie)
      expect((await victim.get(back)).statusCode).toBe(400)
    }
    expect(db.$client.prepare('SELECT subject FROM identities').pluck().all()).toEqual(['u-1'])
    thief.cookies.set('loombook_flow', forged)
    expect((await thief.get(back)).statusCode).toBe(400)
  })
  test('an account that nobody connected, whatever name it bears', async () => {
    const { reply } = await through(visitor(app), { claims: { preferred_username: 'Owner', name: 'Owner' } })
    expect(reply.statusCode).toBe(403)
    expect(reply.body).toContain('Nobody here is connected')
    expect([sessions(), kinds()]).toEqual([0, ['sign-in-refused']])
  })
  test('an address that somebody has here: verified or not, it counts for nothing unless the owner lets it', async () => {
    db.$client.prepare("UPDATE people SET email = 'robin@garage.example', email_folded = 'robin@garage.example'").run()
    for (const email_verified of [false, true, 'true', undefined]) {
      const { reply } = await through(visitor(app), { claims: { email: 'robin@garage.example', email_verified } })
      expect(reply.statusCode).toBe(403)
    }
    expect(db.$client.prepare('SELECT count(*) FROM identities').pluck().get()).toBe(0)
  })
  test('where the owner lets it, one the provider has not verified still counts for nothing; one it has connects for good', async () => {
    await app.close()
    await open(true)
    const owner = visitor(app)
    await owner.signIn()
    const id = db.$client.prepare('SELECT id FROM people').pluck().get() as string
    const set = await owner.post(`/people/${id}/emails`, { email: 'Robin@Garage.example' }, { from: '/people' })
    expect([set.statusCode, set.headers.location]).toEqual([303, '/people'])
    expect((await owner.get('/account')).body).toContain('Robin@Garage.example, once it is verified there')
    for (const email_verified of [false, 'true', undefined])
      expect((await through(visitor(app), { claims: { email: 'robin@garage.example', email_verified } })).reply.statusCode).toBe(403)
    const verified = { email: 'robin@garage.example', email_verified: true }
    expect((await through(visitor(app), { claims: verified })).reply.headers.location).toBe('/shelf')
    expect((await through(visitor(app))).reply.headers.location).toBe('/shelf')
    expect((await through(visitor(app), { claims: { ...verified, email: 'sam@garage.example', sub: 'u-2' } })).reply.statusCode).toBe(403)
  })
  // Else whoever may look could claim the address of somebody who has no account here yet, or none with an address: who would come in as them.
  test.each(['viewer', 'editor'])(
    'one who is %s gives nobody an address, not even themselves: its true holder lands in no account of theirs',
    async (role) => {
      await app.close()
      await open(true)
      const id = '01900000-0000-7000-8000-000000000009'
      db.$client
        .prepare(
          "INSERT INTO people (id, household_id, name, name_folded, password_hash, role, recorded_at) SELECT ?, household_id, 'Sam', 'sam', password_hash, ?, 'x' FROM people",
        )
        .run(id, role)
      const sam = visitor(app)
      await sam.signIn('Sam')
      expect((await sam.get('/account')).body).not.toContain('name="email"')
      const victim = { email: 'vera@garage.example', email_verified: true, sub: 'u-vera' }
      expect((await sam.post(`/people/${id}/emails`, { email: victim.email }, { from: '/account' })).statusCode).toBe(403)
      expect([403, 404]).toContain((await sam.post('/account/emails', { email: victim.email }, { from: '/account' })).statusCode)
      expect((await through(visitor(app), { claims: victim })).reply.statusCode).toBe(403)
      expect(db.$client.prepare('SELECT count(*) FROM identities').pluck().get()).toBe(0)
      expect(db.$client.prepare('SELECT count(*) FROM people WHERE email IS NOT NULL').pluck().get()).toBe(0)
    },
  )
  test('an address that is none, is somebody else’s or is of nobody here is refused beside its field, and kept nowhere', async () => {
    await app.close()
    await open(true)
    const owner = visitor(app)
    await owner.signIn()
    const [first, second] = [db.$client.prepare('SELECT id FROM people').pluck().get() as string, '01900000-0000-7000-8000-000000000009']
    db.$client
      .prepare(
        "INSERT INTO people (id, household_id, name, name_folded, password_hash, recorded_at) SELECT ?, household_id, 'Sam', 'sam', password_hash, 'x' FROM people",
      )
      .run(second)
    const set = (id: string, email: string) => owner.post(`/people/${id}/emails`, { email }, { from: '/people' })
    expect((await set(first, 'robin@garage.example')).statusCode).toBe(303)
    for (const [id, email, status] of [
      [second, 'no address', 422],
      [second, 'ROBIN@garage.example', 409],
    ] as const) {
      const reply = await set(id, email)
      expect([email, reply.statusCode]).toEqual([email, status])
      expect(reply.body).toContain(`href="#email-${id}"`)
    }
    expect((await set('01900000-0000-7000-8000-00000000dead', 'x@garage.example')).statusCode).toBe(404)
    expect(db.$client.prepare('SELECT email FROM people ORDER BY id').pluck().all()).toEqual([null, 'robin@garage.example'])
    expect((await set(first, '')).statusCode).toBe(303)
    expect(db.$client.prepare('SELECT count(*) FROM people WHERE email IS NOT NULL').pluck().get()).toBe(0)
  })
  test('connecting needs the person who began it to be signed in still, and an account of nobody else', async () => {
    await connected()
    const other = visitor(app)
    await other.signIn()
    const away = new URL((await press(other, ACCOUNT)).headers.location as string)
    other.cookies.delete('loombook_session')
    says.claims = { ...says.claims, nonce: away.searchParams.get('nonce') }
    expect((await other.get(`/sessions/provider/return?code=c&state=${away.searchParams.get('state')}`)).statusCode).toBe(400)
    db.$client
      .prepare(
        "INSERT INTO people (id, household_id, name, name_folded, password_hash, recorded_at) SELECT '01900000-0000-7000-8000-000000000009', household_id, 'Sam', 'sam', password_hash, 'x' FROM people",
      )
      .run()
    const sam = visitor(app)
    await sam.signIn('Sam')
    expect((await through(sam, {}, ACCOUNT)).reply.statusCode).toBe(409)
    expect(db.$client.prepare('SELECT person_id FROM identities').pluck().all()).not.toContain('01900000-0000-7000-8000-000000000009')
  })
})
