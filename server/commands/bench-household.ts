/** `npm run bench -- household`: pages of a household of 200 vehicles, each asked for by one client, and what the server's process takes. */
import { spawnSync } from 'node:child_process'
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

/** The household is made in one process and asked in another, so that the memory counted is the server's own. */
export async function benchHousehold(step: string | undefined, file: string | undefined): Promise<void> {
  if (step === 'make' && file) return make(file)
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

async function ask(file: string): Promise<void> {
  const db = openDatabase(file)
  const signed = await signIn(db, systemClock, owner)
  if (!signed.ok) throw new Error('not signed in')
  const app = await buildApp({ db, clock: systemClock, config: { data: '', host: '', port: 0, timeZone: 'UTC' } })
  const headers = { cookie: `loombook_session=${signed.value.token}` }
  const vehicles = db.$client.prepare('SELECT id FROM vehicles ORDER BY id').pluck().all() as string[]
  const vehicle = (n: number) => vehicles[(n * 37) % vehicles.length] as string
  const words = ['F3', 'relay', 'M8x1.25', '10-32', 'green film', 'lamps serviced', 'Starter battery 7', '12.5 V', 's', 'zzzz']
  const pages: readonly (readonly [string, (n: number) => string])[] = [
    ['vehicles', (n) => `/?page=${1 + (n % 9)}`],
    ['vehicle', (n) => `/vehicles/${vehicle(n)}`],
    ['journal', (n) => `/vehicles/${vehicle(n)}/journal?page=${1 + (n % 10)}`],
    ['journal, find', (n) => `/vehicles/${vehicle(n)}/journal?contains=film`],
    ['search', (n) => `/search?q=${encodeURIComponent(words[n % words.length] as string)}`],
    ['search in a vehicle', (n) => `/search?q=${encodeURIComponent(words[n % words.length] as string)}&vehicle=${vehicle(n)}`],
    ['go to a component', () => '/?find=F3'],
    ['components', (n) => `/vehicles/${vehicle(n)}/components`],
    ['log form', (n) => `/vehicles/${vehicle(n)}/entries/new`],
    ['shelf', (n) => `/shelf?page=${1 + (n % 400)}`],
  ]
  for (const [name, url] of pages) {
    const get = async (n: number) => {
      const reply = await app.inject({ url: url(n), headers })
      if (reply.statusCode !== 200) throw new Error(`${url(n)}: ${reply.statusCode}`)
      return reply
    }
    const few = name === 'log form' ? 10 : rounds
    const taken = await timed(get, few)
    const bare = await bareReply((await get(0)).body)
    print(
      `${name.padEnd(20)} ${words95(taken)}; ${((await get(0)).body.length / 1000).toFixed(0)} kB; ${(at(taken, 0.5) / bare).toFixed(0)} times a bare reply`,
    )
  }
  const actor = actorOf(db)
  const saves = await timed(async (n) => save(db, actor, vehicle(n), n), 100)
  print(`${'saving an entry'.padEnd(20)} ${words95(saves)}`)
  print(`memory of the process: ${(process.memoryUsage().rss / 1e6).toFixed(0)} MB`)
  await app.close()
  closeDatabase(db)
}

function save(db: ReturnType<typeof openDatabase>, actor: Actor, vehicleId: string, n: number): void {
  const saved = append(db, systemClock, actor, {
    vehicleId,
    effectiveOn: '2026-01-01',
    title: `Saved ${n}`,
    changes: [{ kind: 'noted', component: 'f1', text: 'Looked at.' }],
  })
  if (!saved.ok) throw new Error(saved.refusals[0]?.sentence)
}

function actorOf(db: ReturnType<typeof openDatabase>): Actor {
  return db.$client.prepare('SELECT household_id AS householdId, id AS personId, name FROM people').get() as Actor
}

async function bareReply(body: string): Promise<number> {
  const app = fastify()
  app.get('/', async (_request, reply) => reply.type('text/html').send(body))
  const taken = await timed(() => app.inject('/'), 200)
  return at(taken, 0.5)
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

function at(sorted: readonly number[], share: number): number {
  return sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))] as number
}

function words95(sorted: readonly number[]): string {
  return `${at(sorted, 0.5).toFixed(1)} ms, 95th percentile ${at(sorted, 0.95).toFixed(1)} ms, worst ${at(sorted, 1).toFixed(1)} ms`
}

function print(line: string): void {
  process.stdout.write(`${line}\n`)
}
