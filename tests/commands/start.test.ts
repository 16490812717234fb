/** What the start says before the door is open, each time of the real server: which setting is wrong and why, and in which form. */
import { spawnSync } from 'node:child_process'
import { existsSync, mkdirSync, mkdtempSync, readdirSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { type AddressInfo, createServer, type Server } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { whyNotListening } from '../../server/listening.ts'
import { bundled, removeBundled } from '../running/bundle.ts'
import { type Running, startServer } from '../running/server.ts'

type Line = { readonly level: number; readonly time: number; readonly msg: string }
type Environment = Readonly<Record<string, string>>

let program: string | undefined
let folder = ''
let taken: Server
let port = ''
const started: Running[] = []
const at = (name: string) => join(folder, name)

beforeAll(async () => {
  program = await bundled('server/main.ts')
  folder = mkdtempSync(join(tmpdir(), 'start-'))
  writeFileSync(at('a-file'), '')
  taken = createServer()
  await new Promise<void>((resolve) => taken.listen(0, '127.0.0.1', resolve))
  port = String((taken.address() as AddressInfo).port)
}, 120_000)
afterAll(async () => {
  for (const server of started) if (server.child.exitCode === null && server.child.signalCode === null) await server.kill()
  taken.close()
  rmSync(folder, { recursive: true, force: true })
  removeBundled(program)
})

const given = (more: Environment) => ({
  PATH: process.env.PATH ?? '',
  HOME: folder,
  LOOMBOOK_DATA: at('data'),
  LOOMBOOK_PORT: '0',
  LOOMBOOK_TIME_ZONE: 'UTC',
  ...more,
})

/** Starts what should not open: the status, and every line of both streams, each of which has to be JSON. */
function tried(more: Environment): {
  readonly status: number | null
  readonly faults: readonly string[]
  readonly warnings: readonly string[]
} {
  const { status, stdout, stderr } = spawnSync(process.execPath, [program as string], {
    env: given(more),
    encoding: 'utf8',
    timeout: 20_000,
  })
  expect(stdout).toBe('')
  const lines = linesOf(stderr)
  return { status, faults: lines.filter(({ level }) => level === 60).map(({ msg }) => msg), warnings: warningsIn(lines) }
}
const linesOf = (text: string) =>
  text
    .trimEnd()
    .split('\n')
    .map((line) => JSON.parse(line) as Line)
const warningsIn = (lines: readonly Line[]) => lines.filter(({ level }) => level === 40).map(({ msg }) => msg)
const saying = (says: string) => [expect.stringContaining(`Loombook cannot start: ${says}`)]

async function opened(more: Environment = {}, before: readonly string[] = []): Promise<Running> {
  const server = await startServer({ program: [...before, program as string], data: at('data'), more: { ...given(more), ...more } })
  started.push(server)
  return server
}

describe('a setting that the machine does not bear out ends the start with status 2, in words', () => {
  test('a port that another program has', () => {
    expect(tried({ LOOMBOOK_PORT: port })).toEqual({
      status: 2,
      faults: saying(`LOOMBOOK_PORT ${port} at 127.0.0.1 is in use by another program`),
      warnings: [],
    })
  })

  // 192.0.2.0/24 is nobody's (RFC 5737), nor is any name under .invalid (RFC 6761, 6.4).
  test.each([
    ['192.0.2.7', /LOOMBOOK_HOST is an address of this machine .*"192\.0\.2\.7" is none of its addresses/],
    ['nowhere.invalid', /LOOMBOOK_HOST is an address to listen on.*"nowhere\.invalid" is not known here \((ENOTFOUND|EAI_\w+)\)/],
    ['999.1.1.1', /LOOMBOOK_HOST is an address to listen on.*not "999\.1\.1\.1"/],
  ])('the host %s; nothing is written', (host, says) => {
    const { status, faults } = tried({ LOOMBOOK_HOST: host, LOOMBOOK_DATA: at('no-data') })
    expect([status, faults]).toEqual([2, [expect.stringMatching(says)]])
    expect(existsSync(at('no-data'))).toBe(false)
  })

  // To root and in most containers every port is open, so what the system answers elsewhere is handed in.
  test.each([
    [
      'EACCES',
      'LOOMBOOK_PORT 80 may not be listened on by this user (EACCES): ports below 1024 are the system’s; set one from 1024 to 65535.',
    ],
    ['EAFNOSUPPORT', 'LOOMBOOK_HOST "::1" and LOOMBOOK_PORT 80: nothing can listen there (EAFNOSUPPORT).'],
  ])('what else the system may answer: %s', (code, says) => {
    expect(whyNotListening({ code } as NodeJS.ErrnoException, { host: '::1', port: 80 })).toBe(says)
  })

  test.each([
    ['a file', () => at('a-file')],
    ['below a file', () => at('a-file/backups')],
    ...(process.platform === 'linux' ? [['where nothing can be made', () => '/proc/nothing/backups'] as const] : []),
  ] as const)('a place for backups: %s', (_, place) => {
    expect(tried({ LOOMBOOK_BACKUPS: place() })).toEqual({
      status: 2,
      faults: saying(`LOOMBOOK_BACKUPS: ${place()} cannot be used for backups`),
      warnings: [],
    })
  })

  test('all of it at once, and a name that is not known beside it', () => {
    const all = { LOOMBOOK_PORT: port, LOOMBOOK_METRICS: 'on', LOOMBOOK_BACKUPS: at('a-file'), LOOMBOOK_PROT: '1' }
    const { status, faults, warnings } = tried(all)
    expect([status, faults]).toEqual([
      2,
      ['LOOMBOOK_METRICS is yes or no', `LOOMBOOK_PORT ${port}`, 'LOOMBOOK_BACKUPS: '].map((says) => expect.stringContaining(says)),
    ])
    expect(warnings).toEqual([expect.stringMatching(/^LOOMBOOK_PROT is not a setting/)])
  })
})

test('the usual place for backups that is a file: the directory cannot be used, status 3', () => {
  mkdirSync(at('spoilt'))
  writeFileSync(at('spoilt/backups'), '')
  expect(tried({ LOOMBOOK_DATA: at('spoilt') })).toEqual({
    status: 3,
    faults: saying(`${at('spoilt/backups')} cannot be used for backups`),
    warnings: [],
  })
})

describe('once it is open', () => {
  test('every line of both streams is JSON with level, time and words; the code for setting up is among them', async () => {
    const server = await opened({ LOOMBOOK_BACKUPS: at('elsewhere/backups') })
    for (let n = 0; n < 100 && !server.out().includes('one-time code'); n++) await new Promise((resolve) => setTimeout(resolve, 20))
    const lines = linesOf(server.out())
    for (const { level, time, msg } of lines) expect([typeof level, typeof time, typeof msg]).toEqual(['number', 'number', 'string'])
    const says = lines.map(({ msg }) => msg)
    expect(says).toContain(`Loombook is open at http://127.0.0.1:${server.port}`)
    expect(says).toContain(`Records are kept in ${at('data')}`)
    expect(says).toContainEqual(expect.stringMatching(/the one-time code is [0-9a-f]{10}$/))
    // The place for backups is made before the first night, for its owner alone.
    expect([readdirSync(at('elsewhere/backups')), statSync(at('elsewhere/backups')).mode & 0o777]).toEqual([[], 0o700])
    // Who has the directory is told before who has the port: it is the same one.
    const second = tried({ LOOMBOOK_PORT: String(server.port) })
    expect(second).toEqual({ status: 3, faults: saying(`Another Loombook is using ${at('data')}`), warnings: [] })
    await server.kill()
  }, 60_000)

  const isThere = spawnSync('script', ['--version']).status === 0
  test.skipIf(!isThere)('at a terminal they are sentences', () => {
    const command = `${process.execPath} ${program}`
    const env = given({ LOOMBOOK_PORT: port, LOOMBOOK_PROT: '1' })
    const { stdout } = spawnSync('script', ['-qec', command, '/dev/null'], { env, encoding: 'utf8', timeout: 20_000 })
    expect(stdout).toMatch(/^Warning: LOOMBOOK_PROT is not a setting.*\r\nLoombook cannot start:\r\n {2}LOOMBOOK_PORT \d+ at 127/)
  })

  test.skipIf(process.platform !== 'linux')(
    'R14: records over a network, at the owner’s own risk, are warned of at each start',
    async () => {
      // The disk of this machine passes for NFS: 0x6969, statfs(2).
      const pretends = `import fs from 'node:fs/promises'; import { syncBuiltinESMExports } from 'node:module';
      const { statfs } = fs; fs.statfs = async (path) => ({ ...(await statfs(path)), type: 0x6969 }); syncBuiltinESMExports()`
      const before = ['--import', `data:text/javascript,${encodeURIComponent(pretends)}`]
      for (let start = 0; start < 2; start++) {
        const server = await opened({ LOOMBOOK_ALLOW_NETWORK_FILE_SYSTEM: 'yes' }, before)
        expect(warningsIn(linesOf(server.out()))).toEqual([
          `${at('data')} lies on a network file system (NFS): records may be lost there. Back up elsewhere.`,
        ])
        await server.kill()
      }
      const refused = spawnSync(process.execPath, [...before, program as string], { env: given({}), encoding: 'utf8' })
      expect([refused.status, linesOf(refused.stderr).map(({ level }) => level)]).toEqual([3, [60]])
      expect(refused.stderr).toContain('lies on a network file system (NFS), where a database loses its locks')
    },
    60_000,
  )
})
