/** The bundle, away from the sources and their packages: what runs there is all in it. */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { ROOT, type Running, setUp, startLoombook, tokenIn, vehiclesOf } from '../hosting.ts'
import { readPdf } from '../pages/pdf-reader.ts'

const folder = mkdtempSync(join(tmpdir(), 'loombook-bundle-'))
const [bundle, data] = [join(folder, 'bundle'), join(folder, 'data')]
let running: Running | null = null
afterAll(() => {
  running?.child.kill('SIGKILL')
  rmSync(folder, { recursive: true, force: true })
})

/** A command of the bundle, asked as the bundle's own scripts ask for it. */
function run(name: string, given: readonly string[] = []) {
  const { scripts } = JSON.parse(readFileSync(join(bundle, 'package.json'), 'utf8')) as { scripts: Record<string, string> }
  const [, file = ''] = scripts[name]?.split(' ') ?? []
  const done = spawnSync(process.execPath, [file, ...given], {
    cwd: bundle,
    env: { PATH: process.env.PATH, HOME: folder, LOOMBOOK_DATA: data, LOOMBOOK_BASE_URL: running?.url },
    encoding: 'utf8',
  })
  return { status: done.status, out: done.stdout, err: done.stderr }
}

test('by itself: the first run, pages, a drawing, papers, every command, and an orderly stop', async () => {
  const made = spawnSync(process.execPath, ['--import', 'tsx', 'docker/bundle.ts', '--out', bundle], { cwd: ROOT, encoding: 'utf8' })
  expect([made.stderr, made.status]).toEqual(['', 0])
  const commands = readdirSync(join(ROOT, 'server/commands')).map((name) => name.replace('.ts', ''))
  // Benchmarks are of the sources alone.
  for (const name of commands.filter((one) => !one.startsWith('bench'))) expect(readdirSync(join(bundle, 'server'))).toContain(`${name}.js`)

  running = await startLoombook({ command: [process.execPath, 'server/main.js'], cwd: bundle, env: { LOOMBOOK_DATA: data } })
  const { url } = running
  const { cookie } = await setUp(url, 'demonstration')
  const get = async (path: string) => {
    const reply = await fetch(url + path, { headers: { cookie } })
    expect(reply.status, path).toBe(200)
    return reply
  }
  const vehicles = await vehiclesOf(url, cookie)
  expect(vehicles).toHaveLength(3)
  const V = `/vehicles/${vehicles[0]}`
  expect(await (await get(V)).text()).toContain(`href="${V}/wiring-drawing"`)
  for (const path of ['/static/app.css', '/healthz', '/readyz']) await get(path)
  // Worked out in the layout thread.
  expect(await (await get(`${V}/wiring-drawing`)).text()).toMatch(/<svg class="drawing".*<path /s)

  // Made by a process that runs our sources.
  const body = new URLSearchParams({ _token: tokenIn(await (await get('/settings')).text()) })
  const pressed = await fetch(`${url}/settings/backups`, { method: 'POST', headers: { cookie, origin: url }, body })
  expect([pressed.status, readdirSync(join(data, 'backups')).length]).toEqual([200, 1])

  // The letters are read from files of a package; one that were not embedded would be loose.
  const chart = /href="(\/vehicles\/[^"]+\/chart)"/.exec(await (await get(`${V}/on-paper`)).text())?.[1]
  for (const path of [`${V}/handover-file.pdf`, `${chart}.pdf`]) {
    const bytes = Buffer.from(await (await get(path)).arrayBuffer())
    const pdf = readPdf(bytes)
    expect([pdf.pages.length > 0, pdf.loose, bytes.includes('IBMPlexSans')], path).toEqual([true, 0, true])
    expect(pdf.text.trim().length, path).toBeGreaterThan(100)
  }

  const document = join(folder, 'document.json')
  writeFileSync(document, await (await get(`${V}/document.json`)).text())
  // Nothing in it is over as it is today.
  expect(run('check', [document])).toMatchObject({ status: 0, err: '', out: expect.stringMatching(/^(?!over ).*^cranking: solved$/ms) })
  expect(run('config')).toMatchObject({ status: 0, err: '', out: expect.stringContaining(`LOOMBOOK_DATA=${data}`) })
  expect(run('password')).toMatchObject({ status: 0, err: '', out: expect.stringContaining('Owner  owner') })
  const link = run('password', ['Owner']).out.split('\n')[0] as string
  expect((await fetch(link)).status).toBe(200)

  running.child.kill('SIGTERM')
  expect(await running.ended).toBe(0)
  expect(run('archive', [join(folder, 'all.zip')])).toMatchObject({ status: 0, err: '' })
  expect(readFileSync(join(folder, 'all.zip')).subarray(0, 4).toString('latin1')).toBe('PK\x03\x04')
  expect(run('restore')).toMatchObject({ status: 0, err: '', out: expect.stringMatching(/ MB {2}\d+ entries {2}0 photos/) })
}, 120_000)
