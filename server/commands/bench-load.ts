/**
 * `npm run bench:load`: vehicle, branch and log pages over http while somebody writes, beside a bare reply of the same bytes made by
 * fastify, better-sqlite3 and eta alone. The server is a process of its own; what asks is this one, on the same processors.
 * `-- seconds 10` makes it shorter.
 */
import { type ChildProcess, fork } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { connect, type Socket } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { type Ready, serve, type Told } from './bench-load-server.ts'

const WRITES_EVERY_ms = 500
type Run = { readonly count: number; readonly errors: number; readonly perSecond: number; readonly p50_ms: number; readonly p99_ms: number }

if (process.argv[2] === 'serve') await serve(process.argv[3] as string)
else await benchLoad(process.argv[2] === 'seconds' ? Number(process.argv[3]) : 60)

async function benchLoad(seconds: number): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'loombook-load-'))
  const server = fork(import.meta.filename, ['serve', folder], { execArgv: ['--max-semi-space-size=32', '--import', 'tsx'] })
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
  print(`${connections} connections, ${seconds} s each, an entry written every ${WRITES_EVERY_ms} ms`)
  for (const page of ready.pages) {
    const ask = { port: ready.port, cookie: ready.cookie, urls: page.urls, connections, ms: (seconds * 1000) / 2 }
    const bare = { ...ask, port: ready.barePort, urls: [page.bare] }
    const before = await memory(server)
    const runs: Run[] = []
    const limits: Run[] = []
    const writer = setInterval(() => server.send('write'), WRITES_EVERY_ms)
    await run({ ...ask, ms: 2000 })
    for (let n = 0; n < 2; n++) runs.push(await run(ask))
    clearInterval(writer)
    const after = await memory(server)
    await run({ ...bare, ms: 1000 })
    for (let n = 0; n < 2; n++) limits.push(await run({ ...bare, ms: ask.ms / 4 }))
    const ours = both(runs)
    const limit = both(limits)
    print(
      `  ${page.name}, ${page.bytes} bytes: ${ours.perSecond.toFixed(0)}/s, p50 ${ours.p50_ms.toFixed(1)} ms, p99 ${ours.p99_ms.toFixed(1)} ms, ` +
        `${ours.errors} errors; bare ${limit.perSecond.toFixed(0)}/s; ratio ${(ours.perSecond / limit.perSecond).toFixed(2)}; ` +
        `memory ${before.toFixed(0)} MB before, ${after.toFixed(0)} MB after`,
    )
  }
  const { writes, failed } = (await asked(server, 'written')) as Told
  print(`  ${writes} entries written so far, ${failed} refused`)
}

type Ask = {
  readonly port: number
  readonly cookie: string
  readonly urls: readonly string[]
  readonly connections: number
  readonly ms: number
}

/** Each connection asks again as soon as it is answered; an answer that is no 200, or none, is an error. */
async function run(ask: Ask): Promise<Run> {
  const times: number[] = []
  let errors = 0
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
  times.sort((a, b) => a - b)
  const at = (part: number) => times[Math.min(times.length - 1, Math.floor(times.length * part))] ?? Number.NaN
  return {
    count: times.length,
    errors,
    perSecond: (times.length * 1000) / (performance.now() - started),
    p50_ms: at(0.5),
    p99_ms: at(0.99),
  }
}

/** The worse percentiles of the two, and their mean speed. */
function both([a, b]: readonly Run[]): Run {
  if (!a || !b) throw new Error('two runs are needed')
  return {
    count: a.count + b.count,
    errors: a.errors + b.errors,
    perSecond: (a.perSecond + b.perSecond) / 2,
    p50_ms: Math.max(a.p50_ms, b.p50_ms),
    p99_ms: Math.max(a.p99_ms, b.p99_ms),
  }
}

/** One connection, kept open, that knows just enough http to see where an answer ends. */
class Line {
  readonly #socket: Socket
  #held = Buffer.alloc(0)
  #missing = -1
  #status = 0
  #answered: (status: number) => void = () => {}

  constructor(socket: Socket) {
    this.#socket = socket.setNoDelay()
    socket.on('data', (bytes) => this.#take(bytes))
    socket.on('error', () => this.#answered(0))
    socket.on('close', () => this.#answered(0))
  }

  get(url: string, cookie: string): Promise<number> {
    return new Promise((resolve) => {
      this.#answered = resolve
      this.#socket.write(`GET ${url} HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: ${cookie}\r\n\r\n`)
    })
  }

  end(): void {
    this.#socket.end()
  }

  #take(bytes: Buffer): void {
    if (this.#missing < 0) {
      this.#held = Buffer.concat([this.#held, bytes])
      const end = this.#held.indexOf('\r\n\r\n')
      if (end < 0) return
      const head = this.#held.toString('latin1', 0, end)
      this.#status = Number(head.slice(9, 12))
      this.#missing = Number(/content-length: (\d+)/i.exec(head)?.[1] ?? 0) - (this.#held.length - end - 4)
      this.#held = Buffer.alloc(0)
    } else this.#missing -= bytes.length
    if (this.#missing > 0) return
    this.#missing = -1
    this.#answered(this.#status)
  }
}

async function memory(server: ChildProcess): Promise<number> {
  return ((await asked(server, 'memory')) as { readonly rss_MB: number }).rss_MB
}

function asked(server: ChildProcess, word: string): Promise<unknown> {
  const answer = heard(server, word)
  server.send(word)
  return answer
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
