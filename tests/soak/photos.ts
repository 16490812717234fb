/**
 * `node --import tsx tests/soak/photos.ts [MB] [baseline]`: twelve photos of 48 Mpx sent at once, by twelve senders, to a bundle that may
 * hold so much (512 MB unless said), while somebody looks at pages. Half of them are progressive unless baseline is said: a decoder holds
 * those whole, 144 MB, and one that does not fit is refused in words. The bound is a memory group of the kernel where one can be made, as
 * root; elsewhere the most that the process held at once is compared with it, and nothing is refused. Ends with 1 where it was killed, a
 * photo was not taken (but for a progressive one for lack of memory), a page took a second, or it held more.
 */
import { execFileSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import { asTheImageStartsIt } from '../../docker/as-the-image.ts'
import { ROOT, setUp, startLoombook, vehiclesOf } from '../hosting.ts'
import { isProgressive, largePhotos } from './large-photos.ts'
import { memoryGroup } from './memory-group.ts'
import { percentile } from './mixed.ts'

const PHOTOS = 12
const MOST_page_ms = 1000
const [most_MB = 512] = process.argv.slice(2, 3).map(Number)
const kind = process.argv[3] === 'baseline' ? 'baseline' : 'mixed'
const print = (line: string) => process.stdout.write(`${line}\n`)

const photos = await largePhotos(PHOTOS, kind)
print(`${PHOTOS} photos of 48 Mpx, ${megabytes(photos.reduce((sum, one) => sum + one.length, 0))} MB together`)
const folder = mkdtempSync(join(tmpdir(), 'loombook-photos-'))
const [bundle, data] = [join(folder, 'bundle'), join(folder, 'data')]
execFileSync('node', ['--import', 'tsx', 'docker/bundle.ts', '--out', bundle], { cwd: ROOT, stdio: 'ignore' })
const group = memoryGroup(most_MB)
const { command: node, env } = asTheImageStartsIt()
const command = group === null ? node : group.starts(node)
const running = await startLoombook({ env: { ...env, LOOMBOOK_DATA: data, LOOMBOOK_LOG_LEVEL: 'warn' }, command, cwd: bundle })
const id = running.child.pid as number
try {
  const { cookie, token } = await setUp(running.url, 'demonstration')
  const [vehicle = ''] = await vehiclesOf(running.url, cookie)
  print(
    `at rest ${held(id, 'VmRSS')} MB; bound ${most_MB} MB, ${group === null ? 'compared with what it held at most' : 'kept by the kernel'}`,
  )
  // Made beforehand: while the sender makes them it takes in no page either.
  const forms = photos.map((bytes, n) => {
    const form = new FormData()
    form.append('_token', token)
    form.append('photo', new Blob([new Uint8Array(bytes)], { type: 'image/jpeg' }), `photo-${n}.jpg`)
    return form
  })
  const pages_ms: number[] = []
  let isOver = false
  const looking = (async () => {
    while (!isOver)
      for (const path of ['/', `/vehicles/${vehicle}`, `/vehicles/${vehicle}/entries/new`]) {
        const from_ms = performance.now()
        const reply = await fetch(running.url + path, { headers: { cookie } })
        await reply.text()
        if (reply.status !== 200) throw new Error(`${path} answered ${reply.status}`)
        pages_ms.push(performance.now() - from_ms)
        await wait(50)
      }
  })()
  const from_ms = performance.now()
  const answers = await Promise.all(
    forms.map(async (form, n) => {
      const address = `${running.url}/vehicles/${vehicle}/photos`
      const reply = await fetch(address, { method: 'POST', body: form, headers: { cookie, accept: 'application/json' } })
      const { says = '' } = (await reply.json()) as { says?: string }
      return { status: reply.status, says, isProgressive: isProgressive({ n, kind }) }
    }),
  )
  const took_s = (performance.now() - from_ms) / 1000
  isOver = true
  await looking
  const most = held(id, 'VmHWM')
  const statuses = answers.map((one) => one.status)
  const short = answers.filter((one) => one.status === 413 && /needs \d+ MB of memory/.test(one.says))
  const amiss = answers.filter((one) => one.status >= 400 && !(group !== null && one.isProgressive && short.includes(one)))
  for (const says of new Set([...short, ...amiss].map((one) => one.says))) print(`told: ${says}`)
  print(`${answers.length - short.length - amiss.length} taken, ${short.length} refused for lack of memory, ${amiss.length} amiss`)
  print(`answered after ${took_s.toFixed(1)} s: ${statuses.join(' ')}; it held ${most} MB at most, ${held(id, 'VmRSS')} MB afterwards`)
  if (group !== null)
    print(`the group held ${megabytes(group.most_bytes())} MB at most, with what of files was kept in memory; killed ${group.killed()}`)
  print(
    `${pages_ms.length} pages meanwhile: p50 ${percentile(pages_ms, 0.5).toFixed(0)} ms, slowest ${Math.max(...pages_ms).toFixed(0)} ms`,
  )
  const isWithin = group === null ? most <= most_MB : group.killed() === 0
  process.exitCode = isWithin && amiss.length === 0 && Math.max(...pages_ms) < MOST_page_ms ? 0 : 1
} catch (fault) {
  print(`It did not hold: ${(fault as Error).message}${group === null ? '' : `; killed ${group.killed()}`}`)
  process.exitCode = 1
} finally {
  running.child.kill('SIGTERM')
  print(`ended with ${await running.ended}`)
  group?.remove()
  rmSync(folder, { recursive: true, force: true })
}

/** proc(5) */
function held(process_id: number, what: 'VmRSS' | 'VmHWM'): number {
  return Math.round(Number(new RegExp(`${what}:\\s+(\\d+)`).exec(readFileSync(`/proc/${process_id}/status`, 'utf8'))?.[1]) / 1024)
}

function megabytes(bytes: number): number {
  return Math.round(bytes / 1024 / 1024)
}
