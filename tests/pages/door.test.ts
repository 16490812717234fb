/** The door: cookies by http and https, a proxy's word, setting up, and guessing, each with as little hashing as it takes. */
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { PassThrough } from 'node:stream'
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest'
import { buildApp } from '../../server/app.ts'
import type { Config } from '../../server/config.ts'
import { makeBackup } from '../../server/records/backup.ts'
import type { Clock } from '../../server/records/clock.ts'
import { closeDatabase, type Db, openDatabase } from '../../server/records/database.ts'
import { createOwner } from '../../server/records/people.ts'
import { SignInLimits } from '../../server/records/sign-in-limits.ts'
import { PASSWORD, tokenIn } from './book.ts'
import { faultsOf } from './markup.ts'
import { visitor } from './visitor.ts'

type App = Awaited<ReturnType<typeof buildApp>>
const PROXY = '192.0.2.9'
let db: Db
let app: App
let now: Date
const clock: Clock = { now: () => now }
const open = async (more: Partial<Config> = {}, owner = true) => {
  await app?.close()
  db = openDatabase(':memory:')
  if (owner && !createOwner(db, clock, { name: 'Zoë', password: PASSWORD }).ok) throw new Error('no owner')
  const trustedProxies = { list: [PROXY], holds: (address: string) => address === PROXY }
  app = await buildApp({ db, clock, config: { data: '', host: '127.0.0.1', port: 0, timeZone: 'UTC', trustedProxies, ...more } })
}
beforeEach(() => {
  now = new Date('2026-11-25T12:00:00Z')
})
afterEach(() => app.close())
const cookiesOf = (reply: { headers: Record<string, unknown> }) => [reply.headers['set-cookie'] ?? []].flat() as string[]
const events = (kind: string) => db.$client.prepare('SELECT count(*) FROM security_events WHERE kind = ?').pluck().get(kind)
const later = (minutes: number) => {
  now = new Date(now.getTime() + minutes * 60_000)
}

describe('cookies', () => {
  test('on plain http have no prefix and are not Secure; none is ever open to scripts or to other sites', async () => {
    await open()
    const browser = visitor(app, { address: '192.0.2.50' })
    const lines = [...cookiesOf(await browser.get('/login')), ...cookiesOf(await browser.signIn('Zoë'))]
    expect(lines.map((line) => line.split('=')[0])).toEqual(['loombook_visitor', 'loombook_session', 'loombook_device'])
    for (const line of lines) {
      expect(line).toMatch(/; Path=\/; HttpOnly; SameSite=Lax$/)
      expect(line).not.toContain('Secure')
    }
    expect((await browser.get('/')).statusCode).toBe(200)
  })
  test('by https behind a trusted proxy are bound to the host and Secure, and the plain ones count for nothing there', async () => {
    await open()
    const secure = { 'x-forwarded-proto': 'https', 'x-forwarded-host': 'garden.example', 'x-forwarded-for': '203.0.113.5' }
    const browser = visitor(app, { address: PROXY, headers: secure })
    const lines = [...cookiesOf(await browser.get('/login')), ...cookiesOf(await browser.signIn('Zoë'))]
    expect(lines.map((line) => line.split('=')[0])).toEqual([
      '__Host-loombook_visitor',
      '__Host-loombook_session',
      '__Host-loombook_device',
    ])
    for (const line of lines) expect(line).toMatch(/; Path=\/; HttpOnly; Secure; SameSite=Lax$/)
    expect((await browser.get('/')).statusCode).toBe(200)
    const planted = visitor(app, { address: PROXY, headers: secure })
    planted.cookies.set('loombook_session', browser.cookies.get('__Host-loombook_session') as string)
    expect((await planted.get('/')).statusCode).toBe(303)
    const out = await browser.post('/sessions/end', {}, { from: '/' })
    expect(cookiesOf(out).some((line) => /^__Host-loombook_session=;.*Secure/.test(line))).toBe(true)
    expect((await browser.get('/')).headers.location).toMatch(/^\/login/)
  })
  test('a scheme and host that somebody else than the proxy claims change nothing (B8)', async () => {
    await open()
    const claims = { 'x-forwarded-proto': 'https', 'x-forwarded-host': 'evil.example' }
    const browser = visitor(app, { address: '192.0.2.50', headers: claims })
    expect(cookiesOf(await browser.get('/login'))[0]).not.toContain('Secure')
    await browser.signIn('Zoë')
    const made = await browser.post('/people/invitations', { role: 'viewer' }, { from: '/people' })
    expect(/<p class="mono">([^<]+)<\/p>/.exec(made.body)?.[1]).toMatch(/^http:\/\/localhost(:80)?\/join\//)
  })
  test('that do not come back are told of, and why where it can be seen', async () => {
    await open()
    const send = (headers: Record<string, string>) =>
      app.inject({
        method: 'POST',
        url: '/sessions',
        headers: { 'content-type': 'application/x-www-form-urlencoded', ...headers },
        payload: `_token=${'x'.repeat(43)}&name=Owner&password=x`,
        remoteAddress: PROXY,
      })
    const plain = await send({ host: 'garden.lan', origin: 'http://garden.lan' })
    expect([plain.statusCode, plain.body.includes('did not send back the cookie')]).toEqual([403, true])
    const mixed = await send({ host: 'garden.lan', origin: 'http://garden.lan', 'x-forwarded-proto': 'https' })
    expect([mixed.statusCode, mixed.body.includes('came by http, but the proxy in front says https')]).toEqual([403, true])
  })
})

test('B6: a cookie from before signing out, or from before the door was closed, opens nothing', async () => {
  await open()
  const browser = visitor(app)
  await browser.signIn('Zoë')
  const kept = browser.cookies.get('loombook_session') as string
  const replay = async () => {
    const thief = visitor(app)
    thief.cookies.set('loombook_session', kept)
    return (await thief.get('/')).headers.location
  }
  expect(await replay()).toBeUndefined()
  await browser.post('/sessions/end', {}, { from: '/' })
  expect(await replay()).toMatch(/^\/login/)
  await browser.signIn('Zoë')
  expect(browser.cookies.get('loombook_session')).not.toBe(kept)
  db.$client.prepare("UPDATE people SET disabled_at = 'x'").run()
  expect((await browser.get('/')).headers.location).toMatch(/^\/login/)
})

describe('B6: what is sent slowly counts as of when it has come', () => {
  /** The first half of a form, what happens meanwhile, then the rest. */
  const halfway = async (browser: ReturnType<typeof visitor>, url: string, fields: Record<string, string>, meanwhile: () => unknown) => {
    const token = tokenIn((await browser.get('/account')).body)
    const form = new URLSearchParams({ _token: token, ...fields }).toString()
    const payload = new PassThrough()
    payload.write(form.slice(0, 10))
    const reply = app.inject({
      method: 'POST',
      url,
      headers: {
        cookie: [...browser.cookies].map((one) => one.join('=')).join('; '),
        'content-type': 'application/x-www-form-urlencoded',
        'content-length': String(form.length),
      },
      payload,
    })
    await new Promise((resolve) => setTimeout(resolve, 50))
    meanwhile()
    payload.end(form.slice(10))
    return reply
  }
  const vehicle = { name: 'Fern', systemVoltage_V: '12' }
  const vehicles = () => db.$client.prepare('SELECT count(*) FROM vehicles').pluck().get()

  test.each([
    ['the session is ended', 'DELETE FROM sessions', 303],
    ['the door is closed', "UPDATE people SET disabled_at = 'x'", 303],
    ['the role is taken back', "UPDATE people SET role = 'viewer'", 403],
  ])('%s meanwhile', async (_, sql, status) => {
    await open()
    const browser = visitor(app)
    await browser.signIn('Zoë')
    expect((await halfway(browser, '/vehicles', vehicle, () => {})).statusCode).toBe(303)
    expect(vehicles()).toBe(1)
    const reply = await halfway(browser, '/vehicles', vehicle, () => db.$client.prepare(sql).run())
    expect([reply.statusCode, vehicles()]).toEqual([status, 1])
    if (status === 303) expect(reply.headers.location).toBe('/login')
  })

  test('a form of ours is kept as where the session was over before', async () => {
    await open()
    const browser = visitor(app)
    await browser.signIn('Zoë')
    const reply = await halfway(browser, '/vehicles', { ...vehicle, _at: '/vehicles/new' }, () =>
      db.$client.prepare('DELETE FROM sessions').run(),
    )
    expect([reply.statusCode, vehicles()]).toEqual([401, 0])
    expect(reply.body).toContain('name="kept-name" value="Fern"')
  })
})

const SENSITIVE = [
  '/account/second-factor',
  '/account/second-factor/removals',
  '/account/passkeys',
  '/account/passkeys/x/names',
  '/account/passkeys/x/removals',
  '/account/identities/x/removals',
  '/account/sessions/x/ends',
  '/account/sessions/ends',
  '/people/invitations',
  '/people/x/roles',
  '/people/x/access',
  '/people/x/emails',
  '/tokens',
  '/webhooks',
  '/settings/backups/x/restorations',
]
test('what matters asks for the password again, and does nothing until then', async () => {
  await open()
  const browser = visitor(app)
  await browser.signIn('Zoë')
  db.$client.prepare('UPDATE sessions SET confirmed_at = NULL').run()
  const before = events('signed-in')
  for (const url of SENSITIVE) {
    const reply = await browser.post(url, { name: 'x', role: 'viewer', code: '1', scope: 'write' }, { from: '/' })
    expect([reply.statusCode, reply.headers.location?.split('?')[0]], url).toEqual([303, '/confirm'])
  }
  for (const url of ['/account/second-factor', '/account/passkeys/new'])
    expect((await browser.get(url)).headers.location, url).toBe(`/confirm?next=${encodeURIComponent(url)}`)
  // A button that was pressed before the password was given is pressed again.
  expect((await browser.get('/account/identities/new')).headers.location).toBe('/confirm?next=%2Faccount%3Fpress%3Dconfirmed')
  expect(db.$client.prepare('SELECT count(*) FROM security_events').pluck().get()).toBe(before)
  const buttons = SENSITIVE.filter((url) => url.startsWith('/account/') && url !== '/account/passkeys')
  for (const url of buttons)
    expect((await browser.post(url, {}, { from: '/' })).headers.location, url).toBe('/confirm?next=%2Faccount%3Fpress%3Dconfirmed')
  // the password itself is asked for in its own form
  expect((await browser.post('/account/passwords', { present: 'wrong word', next: 'another few words' }, { from: '/' })).statusCode).toBe(
    422,
  )
})

test('a button of the account page: once the password was given, the page says so and the button does what it says', async () => {
  await open()
  const [browser, other] = [visitor(app), visitor(app)]
  await other.signIn('Zoë')
  await browser.signIn('Zoë')
  db.$client.prepare('UPDATE sessions SET confirmed_at = NULL').run()
  const openSessions = () => db.$client.prepare('SELECT count(*) FROM sessions').pluck().get()
  const asked = (await browser.post('/account/sessions/ends', {}, { from: '/account' })).headers.location as string
  const next = new URL(asked, 'http://x').searchParams.get('next') as string
  const confirmed = await browser.post('/confirm', { password: PASSWORD, next }, { from: asked })
  expect([confirmed.statusCode, confirmed.headers.location, openSessions()]).toEqual([303, '/account?press=confirmed', 2])
  const says = 'Your password is confirmed: press the button once more.'
  expect((await browser.get(confirmed.headers.location as string)).body).toContain(says)
  expect((await browser.get('/account')).body).not.toContain(says)
  expect((await browser.post('/account/sessions/ends', {}, { from: '/account' })).headers.location).toBe('/account')
  expect(openSessions()).toBe(1)
})

test.each([
  ['/people/invitations', '/people'],
  ['/tokens', '/tokens'],
  ['/webhooks', '/webhooks'],
  ['/settings/backups/x/restorations', '/settings'],
])(
  'a button that sends to %s: once the password was given, %s says so, and says it no more when it is opened by itself',
  async (url, page) => {
    await open()
    const browser = visitor(app)
    await browser.signIn('Zoë')
    db.$client.prepare('UPDATE sessions SET confirmed_at = NULL').run()
    const asked = (await browser.post(url, {}, { from: page })).headers.location as string
    const next = new URL(asked, 'http://x').searchParams.get('next') as string
    const back = (await browser.post('/confirm', { password: PASSWORD, next }, { from: asked })).headers.location as string
    expect(back).toBe(`${page}?press=confirmed`)
    const says = '<p class="note" role="status">Your password is confirmed: press the button once more.</p>'
    expect((await browser.get(back)).body).toContain(says)
    expect((await browser.get(page)).body).not.toContain('press the button once more')
  },
)

describe('B31: who a proxy says it let through', () => {
  const header = { 'remote-user': Buffer.from('zoë', 'utf8').toString('latin1') }

  test('counts for nothing unless it is configured', async () => {
    await open()
    expect((await visitor(app, { address: PROXY, headers: header }).get('/')).headers.location).toMatch(/^\/login/)
    expect(events('forward-auth-ignored')).toBe(0)
  })
  test('is taken from a trusted proxy, whatever the letters; one session serves the requests that follow', async () => {
    await open({ forwardAuthHeader: 'remote-user' })
    const browser = visitor(app, { address: PROXY, headers: header })
    expect((await browser.get('/')).body).toContain('Zoë')
    expect((await browser.get('/shelf')).statusCode).toBe(200)
    expect(db.$client.prepare('SELECT count(*) FROM sessions').pluck().get()).toBe(1)
    // the proxy's word is not the password
    expect((await browser.post('/people/invitations', { role: 'viewer' }, { from: '/people' })).headers.location).toMatch(/^\/confirm/)
  })
  test('from anybody else it is ignored, and told once', async () => {
    await open({ forwardAuthHeader: 'remote-user' })
    const stranger = visitor(app, { address: '192.0.2.50', headers: { ...header, 'x-forwarded-for': PROXY } })
    for (const url of ['/', '/people', '/settings']) expect((await stranger.get(url)).headers.location).toMatch(/^\/login/)
    expect([events('forward-auth-ignored'), events('signed-in')]).toEqual([1, 0])
    expect(db.$client.prepare("SELECT address FROM security_events WHERE kind = 'forward-auth-ignored'").pluck().get()).toBe('192.0.2.50')
    expect((await stranger.signIn('Zoë')).statusCode).toBe(303)
  })
  test('of nobody here, of nothing, twice, or of somebody who may not come in: the door stays', async () => {
    await open({ forwardAuthHeader: 'remote-user' })
    for (const named of ['nobody', '', ' ', 'zoë, zoë', 'x'.repeat(300)]) {
      const reply = await visitor(app, { address: PROXY, headers: { 'remote-user': Buffer.from(named).toString('latin1') } }).get('/')
      expect(reply.headers.location, named).toMatch(/^\/login/)
    }
    db.$client.prepare("UPDATE people SET disabled_at = 'x'").run()
    expect((await visitor(app, { address: PROXY, headers: header }).get('/')).headers.location).toMatch(/^\/login/)
  })
  test('somebody else than the session says: the proxy’s word counts', async () => {
    await open({ forwardAuthHeader: 'remote-user' })
    const browser = visitor(app, { address: PROXY })
    await browser.signIn('Zoë')
    db.$client
      .prepare(
        "INSERT INTO people (id, household_id, name, name_folded, password_hash, recorded_at) SELECT '01900000-0000-7000-8000-000000000009', household_id, 'Sam', 'sam', password_hash, 'x' FROM people",
      )
      .run()
    const page = await browser.get('/', { 'remote-user': 'sam' })
    expect(page.body).toContain('>Sam</a>')
    expect((await browser.get('/', { 'remote-user': 'nobody' })).headers.location).toMatch(/^\/login/)
  })
  test('programs still show their own token', async () => {
    await open({ forwardAuthHeader: 'remote-user' })
    expect((await visitor(app, { address: PROXY, headers: header }).get('/api/vehicles')).statusCode).toBe(401)
  })
})

describe('B37: setting up', () => {
  const fields = { name: 'Owner', password: PASSWORD, start: 'empty' }
  const owners = () => db.$client.prepare('SELECT count(*) FROM people').pluck().get()

  test('is free on the machine itself; afterwards the page is gone for everybody', async () => {
    await open({}, false)
    const here = visitor(app)
    expect((await here.get('/')).headers.location).toBe('/first-run')
    expect((await here.post('/first-run', fields, { from: '/first-run' })).statusCode).toBe(303)
    expect((await here.get('/')).statusCode).toBe(200)
    expect([...here.cookies.keys()]).toContain('loombook_device')
    for (const browser of [here, visitor(app), visitor(app, { address: '192.0.2.50' })]) {
      expect((await browser.get('/first-run')).statusCode).toBe(404)
      expect((await browser.post('/first-run', { ...fields, code: app.setUpCode ?? '' })).statusCode).toBe(404)
    }
    expect(owners()).toBe(1)
  })
  test('from elsewhere needs the code of the log, and it cannot be guessed at', async () => {
    await open({}, false)
    const there = visitor(app, { address: '192.0.2.50' })
    expect(app.setUpCode).toMatch(/^[0-9a-f]{10}$/)
    expect((await there.get('/first-run')).body).toContain('One-time code')
    for (const code of ['', '0000000000', `${app.setUpCode}0`])
      expect((await there.post('/first-run', { ...fields, code }, { from: '/first-run' })).statusCode).toBe(422)
    for (let n = 0; n < 7; n++) await there.post('/first-run', { ...fields, code: `${n}` }, { from: '/first-run' })
    const held = await there.post('/first-run', { ...fields, code: app.setUpCode ?? '' }, { from: '/first-run' })
    expect(held.statusCode).toBe(429)
    expect(Number(held.headers['retry-after'])).toBeGreaterThan(0)
    expect(owners()).toBe(0)
    later(16)
    expect((await there.post('/first-run', { ...fields, code: app.setUpCode ?? '' }, { from: '/first-run' })).statusCode).toBe(303)
    expect(owners()).toBe(1)
  })
  describe('which backups lie on the server', () => {
    let folder: string
    let name: string
    beforeAll(async () => {
      folder = mkdtempSync(join(tmpdir(), 'door-'))
      mkdirSync(join(folder, 'data'))
      const old = openDatabase(join(folder, 'old.sqlite'))
      const made = await makeBackup({
        db: old,
        clock: { now: () => new Date('2026-11-24T03:00:00Z') },
        data: folder,
        folder: join(folder, 'kept'),
      })
      closeDatabase(old)
      name = made.name
    })
    afterAll(() => rmSync(folder, { recursive: true }))
    const tells = (body: string) => [name, '24 Nov 2026', folder].filter((one) => body.includes(one))
    const where = () => ({ backups: join(folder, 'kept'), data: join(folder, 'data') })
    const ask = { from: '/first-run/backups' }

    test('is told on the machine itself', async () => {
      await open(where(), false)
      expect(tells((await visitor(app).get('/first-run')).body)).toEqual(['24 Nov 2026'])
      expect(tells((await visitor(app).get('/first-run/backups')).body)).toEqual([name, '24 Nov 2026'])
    })
    test('is told to nobody from elsewhere before the code was right; guesses at it are counted', async () => {
      await open(where(), false)
      const there = visitor(app, { address: '192.0.2.50' })
      const code = app.setUpCode ?? ''
      for (const url of ['/first-run', '/first-run/backups']) {
        const page = await there.get(url)
        expect([page.statusCode, tells(page.body), faultsOf(page.body)], url).toEqual([200, [], []])
      }
      expect((await there.get('/first-run/backups')).body).toContain('One-time code')
      const tries: Readonly<Record<string, string>>[] = [{}, { code: '' }, { code: '0000000000' }, { code: `${code}0`, backup: name }]
      for (const fields of tries) {
        const refused = await there.post('/first-run/restorations', fields, ask)
        expect([refused.statusCode, tells(refused.body), faultsOf(refused.body)]).toEqual([422, [], []])
        expect(refused.body).not.toContain('Choose the backup')
      }
      const asked = await there.post('/first-run/restorations', { code }, ask)
      expect([asked.statusCode, tells(asked.body), faultsOf(asked.body)]).toEqual([200, [name, '24 Nov 2026'], []])
      // The code goes along, so that it is typed once.
      expect(asked.body).toContain(`value="${code}"`)
      const wrong = await there.post('/first-run/restorations', { code, backup: '../old' }, ask)
      expect([wrong.statusCode, tells(wrong.body), wrong.body.includes('Choose the backup')]).toEqual([422, [name, '24 Nov 2026'], true])
      for (let n = 0; n < 10; n++) await there.post('/first-run/restorations', { code: `${n}` }, ask)
      const held = await there.post('/first-run/restorations', { code }, ask)
      expect([held.statusCode, tells(held.body)]).toEqual([429, []])
      expect(Number(held.headers['retry-after'])).toBeGreaterThan(0)
    })
    test('where there is none, the folder to put one in is told with the code, too', async () => {
      await open({ backups: join(folder, 'none'), data: join(folder, 'data') }, false)
      const there = visitor(app, { address: '192.0.2.50' })
      expect(tells((await there.get('/first-run/backups')).body)).toEqual([])
      const asked = await there.post('/first-run/restorations', { code: app.setUpCode ?? '' }, ask)
      expect([asked.statusCode, tells(asked.body)]).toEqual([200, [folder]])
    })
    test('the one that was chosen is restored from elsewhere with the code', async () => {
      await open(where(), false)
      const there = visitor(app, { address: '192.0.2.50' })
      const done = await there.post('/first-run/restorations', { code: app.setUpCode ?? '', backup: name }, ask)
      expect([done.statusCode, done.body.includes('being put in place')]).toEqual([200, true])
    })
  })
  test('a page of another name that leads to this machine is not this machine', async () => {
    await open({}, false)
    expect((await visitor(app, { headers: { host: 'evil.example' } }).get('/first-run')).body).toContain('One-time code')
    expect((await visitor(app, { headers: { host: '127.0.0.1:8180' } }).get('/first-run')).body).not.toContain('One-time code')
  })
  test('raced by two clients: exactly one owner, and the other one is not in', async () => {
    await open({}, false)
    const both = [visitor(app), visitor(app)]
    const replies = await Promise.all(
      both.map((browser, n) => browser.post('/first-run', { ...fields, name: `Owner ${n}` }, { from: '/first-run' })),
    )
    expect(replies.filter((reply) => reply.statusCode === 303)).toHaveLength(1)
    expect(owners()).toBe(1)
    const pages = await Promise.all(both.map((browser) => browser.get('/')))
    expect(pages.map((page) => page.statusCode).sort()).toEqual([200, 303])
  })
})

describe('B5: guessing', () => {
  test('fifty at the same moment are no more than ten looked at', async () => {
    await open()
    const guesser = visitor(app, { address: '203.0.113.7' })
    const token = tokenIn((await guesser.get('/login')).body)
    const cookie = [...guesser.cookies].map(([name, value]) => `${name}=${value}`).join('; ')
    const replies = await Promise.all(
      Array.from({ length: 50 }, (_, n) =>
        app.inject({
          method: 'POST',
          url: '/sessions',
          headers: { cookie, 'content-type': 'application/x-www-form-urlencoded', 'x-forwarded-for': `198.51.100.${n}` },
          payload: new URLSearchParams({ _token: token, name: n % 2 === 0 ? 'Zoë' : ' ZOË', password: `wrong ${n}` }).toString(),
          remoteAddress: '203.0.113.7',
        }),
      ),
    )
    expect(replies.filter((reply) => reply.statusCode !== 429)).toHaveLength(10)
    expect(events('sign-in-refused')).toBe(10)
    // and a name that nobody has is answered with the same words and header
    const held = replies.find((reply) => reply.statusCode === 429)
    expect(Number(held?.headers['retry-after'])).toBeGreaterThan(0)
  })
  test('a name that nobody has takes as long as one that somebody has, in one run', async () => {
    await open()
    const took = async (name: string) => {
      const begun = process.cpuUsage()
      await visitor(app, { address: `203.0.113.${name.length}` }).signIn(name, 'wrong word')
      const { user, system } = process.cpuUsage(begun)
      return user + system
    }
    await took('warm')
    const [known, unknown] = [await took('Zoë'), await took('Nobody')]
    // A missing hash would make it some fiftieth. Processor time, so that a busy machine does not matter.
    expect(unknown / known).toBeGreaterThan(0.4)
    expect(unknown / known).toBeLessThan(2.5)
  })
  test('two hundred addresses are held back from one name; each of them from others; a known device and a passkey are not', () => {
    const limits = new SignInLimits(clock)
    const from = (n: number) => `198.51.100.${n}`
    const waits = Array.from({ length: 200 }, (_, n) => limits.begin_s({ account: 'zoë', address: from(n), device: null }))
    expect(waits.filter((one) => one === 0)).toHaveLength(10)
    expect(limits.waits_s({ account: 'zoë', address: '192.0.2.1', device: null })).toBeGreaterThan(0)
    expect(limits.waits_s({ account: 'zoë', address: '192.0.2.1', device: 'known' })).toBe(0)
    expect(limits.waits_s({ account: 'passkey 192.0.2.1', address: '192.0.2.1', device: null })).toBe(0)
    // One address guessing at many names stops at twenty.
    const names = Array.from({ length: 60 }, (_, n) => limits.begin_s({ account: `name ${n}`, address: '203.0.113.9', device: null }))
    expect(names.filter((one) => one === 0)).toHaveLength(20)
    later(16)
    expect(limits.waits_s({ account: 'zoë', address: from(1), device: null })).toBe(0)
  })
  test.each([
    ['2001:db8:1:2::1', '2001:db8:1:2:ffff:1:2:3'],
    ['2001:db8::1', '2001:db8:0:0:5::'],
    ['2001:DB8:0001:2::1', '2001:db8:1:2::9'],
    ['::ffff:192.0.2.1', '192.0.2.1'],
  ])('%s and %s are one network and count together', (one, other) => {
    const limits = new SignInLimits(clock)
    for (let n = 0; n < 20; n++) limits.begin_s({ account: `a ${n}`, address: one, device: null })
    expect(limits.waits_s({ account: 'b', address: other, device: null })).toBeGreaterThan(0)
    expect(limits.waits_s({ account: 'b', address: '2001:db8:9:9::1', device: null })).toBe(0)
  })
  test('who knows the password and guesses codes is held back, whatever ticket they take', async () => {
    await open()
    db.$client.prepare("UPDATE people SET second_factor = 'JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP'").run()
    const browser = visitor(app, { address: '203.0.113.7' })
    const codes: number[] = []
    for (let ticket = 0; ticket < 3; ticket++) {
      const given = /name="ticket" value="([^"]+)"/.exec((await browser.signIn('Zoë')).body)?.[1] as string
      for (let n = 0; n < 5; n++) {
        const reply = await browser.post('/sessions/second-factor', { ticket: given, code: 'abcdef' })
        codes.push(reply.statusCode)
      }
    }
    expect(codes).toEqual([...Array(10).fill(422), ...Array(5).fill(429)])
  })
  test('guesses at the present password of an open session are held back too', async () => {
    await open()
    const browser = visitor(app)
    await browser.signIn('Zoë')
    const statuses: number[] = []
    for (let n = 0; n < 22; n++) {
      db.$client.prepare("UPDATE people SET password_hash = 'scrypt$1$1$1$'").run()
      statuses.push((await browser.post('/account/passwords', { present: `guess ${n}`, next: 'x' }, { from: '/account' })).statusCode)
    }
    expect(statuses.filter((status) => status === 429)).toHaveLength(2)
  })
})
