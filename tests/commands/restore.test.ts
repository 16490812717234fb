/** The three doors to a backup, each with the real server: a database that cannot be opened, an empty data directory, the command line. */
import { spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as pause } from 'node:timers/promises'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { faultsOf } from '../pages/markup.ts'
import { bundled, removeBundled } from '../running/bundle.ts'
import { type Answer, firstOwner, formOf, type Running, startServer, tokenIn } from '../running/server.ts'

let program: string | undefined
let home: string
let browser: { readonly cookie: string; readonly token: string }
let name: string
const started: Running[] = []
const folders: string[] = []
const folder = () => {
  const made = mkdtempSync(join(tmpdir(), 'doors-'))
  folders.push(made)
  return made
}
const start = async (data: string, more: Record<string, string> = {}) => {
  const server = await startServer({ program: [program as string], data, more })
  started.push(server)
  return server
}
/** A restored house shows what the backup holds to who was signed in when it was made. */
const seesFern = async (server: Running): Promise<Answer> => {
  for (let tries = 0; ; tries += 1) {
    const reply = await server.ask({ path: '/', headers: { cookie: browser.cookie } }).answer.catch(() => null)
    if (reply?.status === 200 && reply.body.includes('Fern')) return reply
    if (tries > 200)
      throw new Error(`not restored: ${reply?.status} ${reply?.body.replace(/<[^>]*>/g, ' ').slice(0, 400)}\n${server.out()}`)
    await pause(100)
  }
}

beforeAll(async () => {
  program = await bundled('server/main.ts')
  home = folder()
  const server = await start(home)
  browser = await firstOwner(server)
  const post = (path: string, fields: Record<string, string>) => {
    const { headers, body } = formOf({ _token: browser.token, ...fields })
    return server.ask({ method: 'POST', path, headers: { ...headers, cookie: browser.cookie }, body }).answer
  }
  expect((await post('/vehicles', { name: 'Fern', systemVoltage_V: '12' })).status).toBe(303)
  expect((await post('/settings/backups', {})).status).toBe(200)
  await server.kill()
  name = readdirSync(join(home, 'backups')).find((one) => one.startsWith('20')) as string
}, 120_000)
afterAll(async () => {
  for (const server of started) if (server.child.exitCode === null && server.child.signalCode === null) await server.kill()
  for (const one of folders) rmSync(one, { recursive: true, force: true })
  removeBundled(program)
})

describe('a database that cannot be opened (R6)', () => {
  test('is told on every page; the code in the log leads back to the last good backup, and the damaged file is kept', async () => {
    const file = join(home, 'loombook.sqlite')
    const bytes = readFileSync(file).fill(0, 0, 4096)
    writeFileSync(file, bytes)
    for (const end of ['-wal', '-shm']) rmSync(`${file}${end}`, { force: true })
    const server = await start(home)
    const page = await server.ask({ path: '/vehicles/anything', headers: { cookie: browser.cookie } }).answer
    expect([page.status, page.body.includes('cannot open its records'), page.body.includes('is damaged')]).toEqual([503, true, true])
    expect(faultsOf(page.body)).toEqual([])
    const send = (fields: Record<string, string>) => server.ask({ method: 'POST', path: '/rescue', ...formOf(fields) }).answer
    const wrong = await send({ backup: name, code: 'nothing' })
    expect([wrong.status, wrong.body.includes('not the one-time code')]).toEqual([422, true])
    for (let n = 0; n < 100 && !/code for it is/.test(server.out()); n += 1) await pause(20)
    const code = /code for it is ([0-9a-f]{10})/.exec(server.out())?.[1] as string
    expect((await send({ backup: '../..', code })).status).toBe(422)
    expect(readFileSync(file).equals(bytes)).toBe(true)
    expect((await send({ backup: name, code })).body).toContain('being put in place')
    await seesFern(await rebound(server))
    const aside = readdirSync(home).find((one) => one.startsWith('replaced-')) as string
    expect(readFileSync(join(home, aside, 'loombook.sqlite')).equals(bytes)).toBe(true)
    await server.kill()
  }, 120_000)
})

describe('an empty data directory', () => {
  test('offers the backups that are there, restores one, and is shut for that once somebody lives there', async () => {
    const server = await start(folder(), { LOOMBOOK_BACKUPS: join(home, 'backups') })
    const door = await server.ask({ path: '/first-run' }).answer
    expect(door.body).toContain('Restore a backup instead')
    const cookie = door.cookies.join('; ')
    const page = await server.ask({ path: '/first-run/backups', headers: { cookie } }).answer
    expect([page.status, faultsOf(page.body), page.body.includes(name)]).toEqual([200, [], true])
    const send = (fields: Record<string, string>) => {
      const { headers, body } = formOf(fields)
      return server.ask({ method: 'POST', path: '/first-run/restorations', headers: { ...headers, cookie }, body }).answer
    }
    expect((await send({ backup: name })).status).toBe(403)
    expect((await send({ _token: tokenIn(page.body), backup: 'nothing' })).status).toBe(422)
    expect((await send({ _token: tokenIn(page.body), backup: name })).body).toContain('being put in place')
    const again = await rebound(server)
    await seesFern(again)
    expect((await again.ask({ path: '/first-run/backups', headers: { cookie } }).answer).status).toBe(404)
    await server.kill()
  }, 120_000)

  test('from the command line: listed, a wrong name refused, put in place', async () => {
    const data = folder()
    const restore = (...given: string[]) =>
      spawnSync(process.execPath, ['--import', 'tsx', 'server/commands/restore.ts', ...given], {
        encoding: 'utf8',
        env: { PATH: process.env.PATH, HOME: process.env.HOME, LOOMBOOK_DATA: data, LOOMBOOK_BACKUPS: join(home, 'backups') },
      })
    expect(restore().stdout).toContain(name)
    const wrong = restore('2020-01-01T00-00-00-000Z')
    expect([wrong.status, wrong.stderr.includes('was not restored'), existsSync(join(data, 'loombook.sqlite'))]).toEqual([1, true, false])
    expect([restore(name).status, existsSync(join(data, 'loombook.sqlite'))]).toEqual([0, true])
    const server = await start(data)
    await seesFern(server)
    await server.kill()
  }, 120_000)
})

/** Started anew within its process it listens at another port, which it says. */
async function rebound(server: Running): Promise<Running> {
  for (let tries = 0; tries < 300; tries += 1) {
    const open = [...server.out().matchAll(/is open at http:\/\/[^\s]*?:(\d+)/g)].at(-1)?.[1]
    if (open && Number(open) !== server.port) return server.at(Number(open))
    await pause(100)
  }
  throw new Error(`It did not start anew:\n${server.out()}`)
}
