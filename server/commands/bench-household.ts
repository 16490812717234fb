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
const rounds = 300

/** The household is made in one process and served by another, so that the memory counted is the server's own. */
export async function benchHousehold(step: string | undefined, file: string | undefined): Promise<void> {
  if (step === 'make' && file) return make(file)
  if (step === 'serve' && file) return serve(file)
  if (step === 'ask' && file) return ask(file)
  const folder = mkdtempSync(join(tmpdir(), 'loombook-bench-'))
  try {
    for (const next of ['make', 'ask'])
      spawnSync(process.execPath, [...process.execArgv, process.argv[1] as string, 'household', next, join(folder, 'loombook.sqlite')], {
        stdio: 'inherit',
      })
  } finally {
    rmSync(folder, { recursive: true })
  }
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

type Told = { readonly at: string; readonly bare: string; readonly cookie: string; readonly vehicles: readonly string[] }

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
  const actor = db.$client.prepare('SELECT household_id AS householdId, id AS personId, name FROM people').get() as Actor
  const told: Told = {
    at: await app.listen({ host: '127.0.0.1', port: 0 }),
    bare: await bare.listen({ host: '127.0.0.1', port: 0 }),
    cookie: `loombook_session=${signed.value.state === 'in' ? signed.value.token : ''}`,
    vehicles,
  }
  process.send?.(told)
  process.on('message', ({ save: vehicleId }: { readonly save?: string }) => {
    const start = performance.now()
    if (vehicleId) save(db, actor, vehicleId)
    process.send?.({ save_ms: performance.now() - start, memory_B: process.memoryUsage().rss })
  })
}

async function ask(file: string): Promise<void> {
  const server = fork(process.argv[1] as string, ['household', 'serve', file], { execArgv: process.execArgv })
  const { at, bare, cookie, vehicles } = await answer<Told>(server)
  const vehicle = (n: number) => vehicles[(n * 37) % vehicles.length] as string
  const words = ['F3', 'relay', 'M8x1.25', '10-32', 'green film', 'lamps serviced', 'Starter battery 7', '12.5 V', 'se re co', 'zzzz']
  const word = (n: number) => encodeURIComponent(words[n % words.length] as string)
  const pages: readonly (readonly [string, (n: number) => string])[] = [
    ['vehicles', (n) => `/?page=${1 + (n % 9)}`],
    ['vehicle', (n) => `/vehicles/${vehicle(n)}`],
    ['journal', (n) => `/vehicles/${vehicle(n)}/journal?page=${1 + (n % 10)}`],
    ['journal, find', (n) => `/vehicles/${vehicle(n)}/journal?contains=film`],
    ['search', (n) => `/search?q=${word(n)}`],
    ['search in a vehicle', (n) => `/search?q=${word(n)}&vehicle=${vehicle(n)}`],
    ['go to a component', () => '/?find=F3'],
    ['components', (n) => `/vehicles/${vehicle(n)}/components`],
    ['shelf', (n) => `/shelf?page=${1 + (n % 400)}`],
  ]
  for (const [name, url] of pages) {
    const get = async (n: number) => {
      const reply = await fetch(`${at}${url(n)}`, { headers: { cookie } })
      if (reply.status !== 200) throw new Error(`${url(n)}: ${reply.status}`)
      return (await reply.text()).length
    }
    const taken = await timed(get, rounds)
    const size_B = await get(0)
    const limit = await timed(async () => (await fetch(`${bare}/${size_B}`)).text(), rounds)
    const times = (mid(taken, 0.5) / mid(limit, 0.5)).toFixed(1)
    print(`${name.padEnd(20)} ${told95(taken)}; ${(size_B / 1000).toFixed(0)} kB; ${times} times a bare reply of as many bytes`)
  }
  const saves: number[] = []
  for (let n = 0; n < 120; n++) saves.push((await tell(server, { save: vehicle(n) })).save_ms)
  print(`${'saving an entry'.padEnd(20)} ${told95(saves.slice(20).sort((a, b) => a - b))}`)
  print(`memory of the server: ${((await tell(server, {})).memory_B / 1e6).toFixed(0)} MB`)
  const form = await timed(async (n) => (await fetch(`${at}/vehicles/${vehicle(n)}/entries/new`, { headers: { cookie } })).text(), 5)
  print(`${'log form, at last'.padEnd(20)} ${told95(form)}; memory then ${((await tell(server, {})).memory_B / 1e6).toFixed(0)} MB`)
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

function tell(server: ChildProcess, what: { readonly save?: string }): Promise<{ readonly save_ms: number; readonly memory_B: number }> {
  const told = answer<{ save_ms: number; memory_B: number }>(server)
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

function told95(sorted: readonly number[]): string {
  return `${mid(sorted, 0.5).toFixed(1)} ms, 95th percentile ${mid(sorted, 0.95).toFixed(1)} ms, worst ${mid(sorted, 1).toFixed(1)} ms`
}

function print(line: string): void {
  process.stdout.write(`${line}\n`)
}
