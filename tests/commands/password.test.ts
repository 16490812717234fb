/** The command for a forgotten password, run as it is run, on records of its own. */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { buildApp } from '../../server/app.ts'
import { changeKept } from '../../server/records/changing-digests.ts'
import { type Clock, systemClock } from '../../server/records/clock.ts'
import { closeDatabase, type Db, openDatabase } from '../../server/records/database.ts'
import { createOwner, signIn } from '../../server/records/people.ts'
import { beginSession, sessionOf } from '../../server/records/sessions.ts'
import { PASSWORD, tokenIn } from '../pages/book.ts'

let data: string
let db: Db
let session: string
let personId: string
beforeEach(() => {
  data = mkdtempSync(join(tmpdir(), 'loombook-'))
  db = openDatabase(join(data, 'loombook.sqlite'))
  const owner = createOwner(db, systemClock, { name: 'Owner', password: PASSWORD })
  if (!owner.ok) throw new Error('no owner')
  personId = owner.value.personId
  session = beginSession(db, systemClock, { id: personId, householdId: owner.value.householdId }, { device: '', address: '' })
})
afterEach(() => {
  closeDatabase(db)
  rmSync(data, { recursive: true })
})

/** While the records are open here, as they are while the server runs. */
function run(given: readonly string[], input = '') {
  const done = spawnSync(process.execPath, ['--import', 'tsx', 'server/commands/password.ts', ...given], {
    env: { PATH: process.env.PATH, LOOMBOOK_DATA: data, LOOMBOOK_PORT: '8181' },
    input,
    encoding: 'utf8',
  })
  return { status: done.status, out: done.stdout, err: done.stderr }
}
const plantSecondFactor = () => void db.$client.prepare("UPDATE people SET second_factor = 'JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP'").run()
const kinds = () => db.$client.prepare('SELECT kind FROM security_events ORDER BY id').pluck().all()
const letsIn = async (password: string) => (await signIn(db, systemClock, { name: 'Owner', password })).ok

test('a new password from the standard input: the old one is over, sessions end, and it is logged', async () => {
  const done = run(['owner', '--set'], 'another few words\n')
  expect(done).toMatchObject({ status: 0, err: '' })
  expect(done.out).toContain('sessions ended: 1')
  expect(done.out).not.toContain('another few words')
  expect(sessionOf(db, systemClock, session)).toBeNull()
  expect(kinds()).toEqual(['password-changed'])
  expect([await letsIn(PASSWORD), await letsIn('another few words')]).toEqual([false, true])
})

test('one that would be guessed first is refused, and nothing changes', async () => {
  const done = run(['Owner', '--set'], 'password\n')
  expect([done.status, done.out]).toEqual([2, ''])
  expect(done.err).toContain('Choose another')
  expect(sessionOf(db, systemClock, session)).not.toBeNull()
  expect(await letsIn(PASSWORD)).toBe(true)
})

test('a link sets a new password, once and within an hour; only its hash is kept', async () => {
  const done = run(['Owner'])
  expect(done).toMatchObject({ status: 0, err: '' })
  const link = new URL(done.out.split('\n')[0] as string)
  expect([link.origin, kinds()]).toEqual(['http://127.0.0.1:8181', ['password-link-made']])
  expect(JSON.stringify(db.$client.prepare('SELECT * FROM password_resets').all())).not.toContain(link.pathname.split('/').at(-1))
  let ahead_ms = 0
  const clock: Clock = { now: () => new Date(Date.now() + ahead_ms) }
  const app = await buildApp({ db, clock, config: { data, host: '127.0.0.1', port: 0, timeZone: 'UTC' } })
  const send = async (password: string, path = link.pathname) => {
    const page = await app.inject(path)
    return app.inject({
      method: 'POST',
      url: path,
      headers: { cookie: String(page.headers['set-cookie']).split(';')[0] as string, 'content-type': 'application/x-www-form-urlencoded' },
      payload: new URLSearchParams({ _token: tokenIn(page.body), password }).toString(),
    })
  }
  ahead_ms = 61 * 60_000
  expect((await app.inject(link.pathname)).statusCode).toBe(404)
  ahead_ms = 0
  expect((await send('short')).statusCode).toBe(422)
  expect((await app.inject(`${link.pathname}x`)).statusCode).toBe(404)
  expect((await send('another few words')).headers.location).toBe('/login')
  expect(sessionOf(db, systemClock, session)).toBeNull()
  expect((await app.inject(link.pathname)).statusCode).toBe(404)
  expect([await letsIn(PASSWORD), await letsIn('another few words')]).toEqual([false, true])
  // a second link ends the first
  const [first, second] = [run(['Owner']), run(['Owner'])].map((one) => new URL(one.out.split('\n')[0] as string).pathname)
  expect((await app.inject(first as string)).statusCode).toBe(404)
  expect((await app.inject(second as string)).statusCode).toBe(200)
  await app.close()
})

test('a lost second factor is taken off, and the password stays', async () => {
  changeKept(db, { table: 'people', id: personId, write: plantSecondFactor })
  expect(await signIn(db, systemClock, { name: 'Owner', password: PASSWORD })).toMatchObject({ value: { state: 'second-factor' } })
  expect(run(['Owner', '--without-second-factor']).status).toBe(0)
  expect(await signIn(db, systemClock, { name: 'Owner', password: PASSWORD })).toMatchObject({ value: { state: 'in' } })
})

test('a person’s row that is not as it was written is not changed, and that is said', () => {
  plantSecondFactor()
  const told = run(['Owner', '--without-second-factor'])
  expect([told.status, told.out]).toEqual([2, ''])
  expect(told.err).toMatch(/people is not as it was written.*Nothing was changed.*backup/)
  expect(db.$client.prepare('SELECT second_factor FROM people').pluck().get()).not.toBe(null)
})

test('with no name it lists who there is; a name that nobody has, and no records, are said', () => {
  expect(run([]).out).toContain('Owner  owner')
  expect(run(['Nobody'])).toMatchObject({ status: 2, out: '', err: 'Nobody here is called Nobody.\n' })
  closeDatabase(db)
  rmSync(join(data, 'loombook.sqlite'))
  expect(run(['Owner']).err).toContain(`There are no records in ${data}`)
  db = openDatabase(':memory:')
})
