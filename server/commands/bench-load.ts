/**
 * `npm run bench:load`: vehicle, branch and log pages over http while somebody writes, beside a bare reply of the same bytes made by
 * fastify, better-sqlite3 and eta alone. The server is a process of its own; what asks is this one, on the same processors.
 * `-- seconds 10` makes it shorter.
 */
import { type ChildProcess, fork } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { connect } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { Line } from './bench-line.ts'
import { type Memory, type Ready, serve, type Told, type Used, WRITES_AFTER_s } from './bench-load-server.ts'

type Run = {
  readonly errors: number
  readonly perSecond: number
  /** against what the server's process used, whatever else the machine did */
  readonly perCpuSecond: number
  readonly p50_ms: number
  readonly p99_ms: number
}

if (process.argv[2] === 'serve') await serve(process.argv[3] as string)
else await benchLoad(process.argv[2] === 'seconds' ? Number(process.argv[3]) : 60)

async function benchLoad(seconds: number): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'loombook-load-'))
  const server = fork(import.meta.filename, ['serve', folder], {
    execArgv: ['--expose-gc', '--max-semi-space-size=32', '--no-allocation-site-pretenuring', '--import', 'tsx'],
  })
  const ready = (await heard(server, 'ready')) as Ready
  try {
    for (const connections of [5, 50]) await atOnce(server, ready, { seconds, connections })
  } finally {
    server.kill()
    rmSync(folder, { recursive: true, force: true })
  }
}

/** The two are asked in turn, so that whatever else the machine does meets both. */
async function atOnce(
  server: ChildProcess,
  ready: Ready,
  given: { readonly seconds: number; readonly connections: number },
): Promise<void> {
  const { seconds, connections } = given
  print(`${connections} connections, ${seconds} s each, an entry written for every ${WRITES_AFTER_s} s of the server's processor time`)
  for (const page of ready.pages) {
    const ask = { port: ready.port, cookie: ready.cookie, urls: page.urls, connections, ms: (seconds * 1000) / 2 }
    const bare = { ...ask, port: ready.barePort, urls: [page.bare] }
    const memory: Memory[] = []
    const look = async () => memory.push(await asked<Memory>(server, 'memory'))
    const [runs, limits]: [Run[], Run[]] = [[], []]
    await run(server, { ...ask, ms: 2000 })
    await look()
    for (let n = 0; n < 2; n++) {
      server.send('write on')
      runs.push(await run(server, ask))
      server.send('write off')
      await look()
      limits.push(await run(server, { ...bare, ms: ask.ms / 3 }))
    }
    const [ours, limit] = [both(runs), both(limits)]
    print(
      `  ${page.name}, ${page.bytes} bytes: ${ours.perSecond.toFixed(0)}/s, p50 ${ours.p50_ms.toFixed(1)} ms, p99 ${ours.p99_ms.toFixed(1)} ms, ` +
        `${ours.errors} errors; bare ${limit.perSecond.toFixed(0)}/s; ratio ${(ours.perSecond / limit.perSecond).toFixed(2)}, ` +
        `by the server's own processor time ${(ours.perCpuSecond / limit.perCpuSecond).toFixed(2)}; ` +
        `memory at the start, in the middle and at the end ${memory.map(told).join(', ')}`,
    )
  }
  const { writes, failed } = await asked<Told>(server, 'written')
  print(`  ${writes} entries written so far, ${failed} refused`)
}

/** All of it, which goes up until what is not needed is collected; and what is held after that, kept pages among it. */
function told({ rss_MB, held_MB }: Memory): string {
  return `${rss_MB.toFixed(0)} MB (${held_MB.toFixed(0)} held)`
}

type Ask = {
  readonly port: number
  readonly cookie: string
  readonly urls: readonly string[]
  readonly connections: number
  readonly ms: number
}

/** Each connection asks again as soon as it is answered; an answer that is no 200, or none, is an error. */
async function run(server: ChildProcess, ask: Ask): Promise<Run> {
  const times: number[] = []
  let errors = 0
  const used = await asked<Used>(server, 'used')
  const started = performance.now()
  const until = started + ask.ms
  await Promise.all(
    Array.from({ length: ask.connections }, async (_, n) => {
      const line = new Line(connect(ask.port, '127.0.0.1'))
      for (let at = n; performance.now() < until; at++) {
        const begun = performance.now()
        const status = await line.get(ask.urls[at % ask.urls.length] as string, ask.cookie)
        times.push(performance.now() - begun)
        if (status !== 200) errors++
        if (status === 0) break
      }
      line.end()
    }),
  )
  const took_s = (performance.now() - started) / 1000
  const cpu_s = (await asked<Used>(server, 'used')).cpu_s - used.cpu_s
  times.sort((a, b) => a - b)
  const at = (part: number) => times[Math.min(times.length - 1, Math.floor(times.length * part))] ?? Number.NaN
  return { errors, perSecond: times.length / took_s, perCpuSecond: times.length / cpu_s, p50_ms: at(0.5), p99_ms: at(0.99) }
}

/** The worse percentiles of the two, and their mean speed. */
function both([a, b]: readonly Run[]): Run {
  if (!a || !b) throw new Error('two runs are needed')
  return {
    errors: a.errors + b.errors,
    perSecond: (a.perSecond + b.perSecond) / 2,
    perCpuSecond: (a.perCpuSecond + b.perCpuSecond) / 2,
    p50_ms: Math.max(a.p50_ms, b.p50_ms),
    p99_ms: Math.max(a.p99_ms, b.p99_ms),
  }
}

async function asked<Answer>(server: ChildProcess, word: string): Promise<Answer> {
  const answer = heard(server, word)
  server.send(word)
  return (await answer) as Answer
}

function heard(server: ChildProcess, word: string): Promise<unknown> {
  return new Promise((resolve, reject) => {
    const listen = (message: { readonly word?: string }) => {
      if (message.word !== word) return
      server.off('message', listen as never)
      server.off('exit', gone)
      resolve(message)
    }
    const gone = () => reject(new Error('The server went away.'))
    server.on('message', listen as never)
    server.once('exit', gone)
  })
}

function print(line: string): void {
  process.stdout.write(`${line}\n`)
}
