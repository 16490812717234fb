/** `npm run bench -- household`: pages of a household of 200 vehicles, each asked for by one client, and what the server's process takes. */
import { type ChildProcess, fork, spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, statSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import fastify from 'fastify'
import { buildApp } from '../app.ts'
import { systemClock } from '../records/clock.ts'
import type { Actor } from '../records/contract.ts'
import { closeDatabase, openDatabase } from '../records/database.ts'
import { generateHousehold } from '../records/generated/household.ts'
import { append } from '../records/journal.ts'
import { createOwner, signIn } from '../records/people.ts'

const size = { vehicles: 200, entriesPerVehicle: 500, parts: 20_000, photosPerVehicle: 250 }
const owner = { name: 'Owner', password: 'a long enough word' }
const rounds = 100
/** every so many parts the same kind comes round */
const kindsOfPart = 7

/** As the image and the unit start it. */
const FLAGS = ['--max-semi-space-size=8', '--heap-growing-percent=40', '--no-allocation-site-pretenuring']
const MALLOC = { MALLOC_ARENA_MAX: '2', MALLOC_MMAP_THRESHOLD_: '131072', MALLOC_TRIM_THRESHOLD_: '131072' }

/**
 * Measured is the bundle, which is what runs for years. The household is made in one process of it and served by another, so that the
 * memory counted is the server's own.
 */
export async function benchHousehold(step: string | undefined, file: string | undefined): Promise<void> {
  if (step === 'make' && file) return make(file)
  if (step === 'serve' && file) return serve(file)
  if (step === 'ask' && file) return ask(file)
  const folder = mkdtempSync(join(tmpdir(), 'loombook-bench-'))
  try {
    const bundle = join(folder, 'bundle')
    run([...process.execArgv, join(import.meta.dirname, '..', '..', 'docker', 'bundle.ts'), '--out', bundle, '--bench'])
    for (const next of ['make', 'ask'])
      run([...FLAGS, join(bundle, 'server', 'bench.js'), 'household', next, join(folder, 'loombook.sqlite')])
  } finally {
    rmSync(folder, { recursive: true })
  }
}

function run(words: readonly string[]): void {
  const { status } = spawnSync(process.execPath, words, { stdio: 'inherit', env: { ...process.env, ...MALLOC } })
  if (status !== 0) throw new Error(`node ${words.join(' ')} ended with ${status}`)
}

function make(file: string): void {
  const start = performance.now()
  const db = openDatabase(file)
  const made = createOwner(db, systemClock, owner)
  if (!made.ok) throw new Error('no owner')
  generateHousehold(db, systemClock, made.value, size)
  const count = (table: string) => `${db.$client.prepare(`SELECT count(*) FROM ${table}`).pluck().get()} ${table}`
  const tables = ['vehicles', 'entries', 'changes', 'parts', 'photos', 'search_rows'].map(count).join(', ')
  closeDatabase(db)
  print(`${tables}; ${(statSync(file).size / 1e6).toFixed(0)} MB, made in ${((performance.now() - start) / 1000).toFixed(0)} s`)
}

type Told = {
  readonly at: string
  readonly bare: string
  readonly cookie: string
  readonly vehicles: readonly string[]
  readonly parts: readonly string[]
}
/** Of one request, inside the server's process: from its arrival to its last byte, and what the processor worked for it. */
type Taken = { readonly wall_ms: number; readonly cpu_ms: number }
type Answer = { readonly saved: Taken; readonly taken: readonly Taken[]; readonly memory_B: number }

/** The server alone in its process; it is asked over http and told over the channel between the two. */
async function serve(file: string): Promise<void> {
  const db = openDatabase(file)
  const signed = await signIn(db, systemClock, owner)
  if (!signed.ok) throw new Error('not signed in')
  const app = await buildApp({ db, clock: systemClock, config: { data: '', host: '', port: 0, timeZone: 'UTC' } })
  const bare = fastify()
  bare.get('/:bytes', async (request, reply) =>
    reply.type('text/html').send('x'.repeat(Number((request.params as { bytes: string }).bytes))),
  )
  const vehicles = db.$client.prepare('SELECT id FROM vehicles ORDER BY id').pluck().all() as string[]
  const parts = db.$client.prepare('SELECT id FROM parts ORDER BY id LIMIT 294').pluck().all() as string[]
  const taken: Taken[] = []
  const begun = new WeakMap<object, { readonly at_ms: number; readonly cpu: NodeJS.CpuUsage }>()
  app.addHook('onRequest', async (request) => void begun.set(request, { at_ms: performance.now(), cpu: process.cpuUsage() }))
  app.addHook('onResponse', async (request) => {
    const from = begun.get(request)
    if (!from) return
    const cpu = process.cpuUsage(from.cpu)
    taken.push({ wall_ms: performance.now() - from.at_ms, cpu_ms: (cpu.user + cpu.system) / 1000 })
  })
  const actor = db.$client.prepare('SELECT household_id AS householdId, id AS personId, name FROM people').get() as Actor
  const told: Told = {
    at: await app.listen({ host: '127.0.0.1', port: 0 }),
    bare: await bare.listen({ host: '127.0.0.1', port: 0 }),
    cookie: `loombook_session=${signed.value.state === 'in' ? signed.value.token : ''}`,
    vehicles,
    parts,
  }
  process.send?.(told)
  process.on('message', ({ save: vehicleId }: { readonly save?: string }) => {
    const [start, cpu] = [performance.now(), process.cpuUsage()]
    if (vehicleId) save(db, actor, vehicleId)
    const { user, system } = process.cpuUsage(cpu)
    const saved = { wall_ms: performance.now() - start, cpu_ms: (user + system) / 1000 }
    process.send?.({ saved, taken: taken.splice(0), memory_B: process.memoryUsage().rss } satisfies Answer)
  })
}

async function ask(file: string): Promise<void> {
  const server = fork(process.argv[1] as string, ['household', 'serve', file], { execArgv: process.execArgv })
  const { at, bare, cookie, vehicles, parts } = await answer<Told>(server)
  const vehicle = (n: number) => vehicles[(n * 37) % vehicles.length] as string
  const part = (n: number) => parts[(n * 37) % parts.length] as string
  const words = ['F3', 'relay', 'M8x1.25', '10-32', 'green film', 'lamps serviced', 'Starter battery 7', '12.5 V', 'se re co', 'zzzz']
  const word = (n: number) => encodeURIComponent(words[n % words.length] as string)
  const pages: readonly (readonly [string, (n: number) => string])[] = [
    ['vehicles', (n) => `/?page=${1 + (n % 9)}`],
    ['vehicle', (n) => `/vehicles/${vehicle(n)}`],
    ['vehicle, as of', (n) => `/vehicles/${vehicle(n)}?on=2020-0${1 + (n % 9)}-05`],
    ['journal', (n) => `/vehicles/${vehicle(n)}/journal?page=${1 + (n % 10)}`],
    ['journal, find', (n) => `/vehicles/${vehicle(n)}/journal?contains=film`],
    ['search', (n) => `/search?q=${word(n)}`],
    ['search in a vehicle', (n) => `/search?q=${word(n)}&vehicle=${vehicle(n)}`],
    ['go to a component', () => '/?find=F3'],
    ['components', (n) => `/vehicles/${vehicle(n)}/components`],
    ['branch', (n) => `/vehicles/${vehicle(n)}/components/f1`],
    ['life', (n) => `/vehicles/${vehicle(n)}/components/f1/life`],
    ['compare', (n) => `/vehicles/${vehicle(n)}/compare?from=2020-02-01&to=2020-08-01`],
    ['log form', (n) => `/vehicles/${vehicle(n)}/entries/new?component=f1`],
    ['log form, parts', (n) => `/vehicles/${vehicle(n)}/entries/part-choices?verb=swapped&component=f1&q=${word(n)}`],
    ['shelf', (n) => `/shelf?page=${1 + (n % 400)}`],
    ['shelf, find', (n) => `/shelf?contains=${word(n)}`],
    ['part', (n) => `/parts/${part(n)}`],
    ['parts compared', (n) => `/parts/compare?part=${parts[n % 280]}&part=${parts[(n % 280) + kindsOfPart]}`],
    ['inspections', (n) => `/parts/${part(n)}/inspections/new`],
    ['decision', (n) => `/decisions/new?vehicle=${vehicle(n)}`],
    ['due', () => '/due'],
    ['due on a vehicle', (n) => `/vehicles/${vehicle(n)}/due`],
    ['costs', () => '/costs'],
    ['trash', () => '/trash'],
    ['findings', (n) => `/vehicles/${vehicle(n)}/findings`],
  ]
  const asked = process.argv[5]
  for (const [name, url] of pages.filter(([name]) => asked === undefined || asked.split(';').includes(name))) {
    const get = async (n: number) => {
      const reply = await fetch(`${at}${url(n)}`, { headers: { cookie } })
      if (reply.status !== 200) throw new Error(`${url(n)}: ${reply.status}`)
      return await reply.text()
    }
    await tell(server, {})
    const largest = { bytes: 0, nodes: 0 }
    await timed(async (n) => {
      const body = await get(n)
      largest.bytes = Math.max(largest.bytes, body.length)
      largest.nodes = Math.max(largest.nodes, body.match(/<[a-z]/g)?.length ?? 0)
    }, rounds)
    const taken = (await tell(server, {})).taken.slice(-rounds)
    const limit = await timed(async () => (await fetch(`${bare}/${largest.bytes}`)).text(), 100)
    print(
      `${name.padEnd(20)} ${toldOf(taken)}; ${(largest.bytes / 1000).toFixed(0)} kB, ${largest.nodes} elements; a bare reply ${mid(limit, 0.5).toFixed(1)} ms`,
    )
  }
  const saves: Taken[] = []
  for (let n = 0; n < 120; n++) saves.push((await tell(server, { save: vehicle(n) })).saved)
  print(`${'saving an entry'.padEnd(20)} ${toldOf(saves.slice(20))}`)
  print(`memory of the server: ${((await tell(server, {})).memory_B / 1e6).toFixed(0)} MB`)
  server.kill()
}

function save(db: ReturnType<typeof openDatabase>, actor: Actor, vehicleId: string): void {
  const saved = append(db, systemClock, actor, {
    vehicleId,
    effectiveOn: '2026-01-01',
    title: 'Looked at',
    changes: [{ kind: 'noted', component: 'f1', text: 'Looked at.' }],
  })
  if (!saved.ok) throw new Error(saved.refusals[0]?.sentence)
}

function answer<T>(server: ChildProcess): Promise<T> {
  return new Promise((resolve) => server.once('message', (told) => resolve(told as T)))
}

function tell(server: ChildProcess, what: { readonly save?: string }): Promise<Answer> {
  const told = answer<Answer>(server)
  server.send(what)
  return told
}

/** Sorted milliseconds, after a few rounds that do not count. */
async function timed(work: (n: number) => unknown, count: number): Promise<readonly number[]> {
  const taken: number[] = []
  for (let n = 0; n < count + 20; n++) {
    const start = performance.now()
    await work(n)
    if (n >= 20) taken.push(performance.now() - start)
  }
  return taken.sort((a, b) => a - b)
}

function mid(sorted: readonly number[], share: number): number {
  return sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))] as number
}

/** Processor time is what the page costs; the time that passed is more where other processes want the same processors. */
function toldOf(taken: readonly Taken[]): string {
  const cpu = taken.map((one) => one.cpu_ms).sort((a, b) => a - b)
  const wall = taken.map((one) => one.wall_ms).sort((a, b) => a - b)
  const ms = (value: number) => value.toFixed(1)
  return `processor ${ms(mid(cpu, 0.5))} ms, 95th percentile ${ms(mid(cpu, 0.95))}, worst ${ms(mid(cpu, 1))}; passed ${ms(mid(wall, 0.5))} and ${ms(mid(wall, 0.95))} ms`
}

function print(line: string): void {
  process.stdout.write(`${line}\n`)
}
