/** The process that `npm run bench:load` asks: Loombook with the demonstration vehicles, beside a bare reply of the same bytes. */
import { join } from 'node:path'
import { Eta } from 'eta'
import fastify from 'fastify'
import { buildApp } from '../app.ts'
import { systemClock as clock, today } from '../records/clock.ts'
import type { Actor } from '../records/contract.ts'
import { type Db, openDatabase } from '../records/database.ts'
import { loadDemo } from '../records/demo/index.ts'
import { append } from '../records/journal.ts'
import { createOwner, signIn } from '../records/people.ts'
import { reportOn } from '../records/projection.ts'

export type Page = { readonly name: string; readonly urls: readonly string[]; readonly bare: string; readonly bytes: number }
export type Ready = {
  readonly word: 'ready'
  readonly port: number
  readonly barePort: number
  readonly cookie: string
  readonly pages: readonly Page[]
}
export type Used = { readonly word: 'used'; readonly cpu_s: number }
export type Memory = { readonly word: 'memory'; readonly rss_MB: number; readonly held_MB: number }
export type Told = { readonly word: 'written'; readonly writes: number; readonly failed: number }

/** Somebody logs without a pause: an entry for so much of the server's own processor time, which is as much by the clock where nothing else runs. */
export const WRITES_AFTER_s = 2
const PASSWORD = 'a long enough word'
/** So many branches are asked for in turn. */
const BRANCHES = 12
/** A bare page reads so many rows and prints each by its template. */
const ROWS = 200

export async function serve(folder: string): Promise<void> {
  const db = openDatabase(join(folder, 'loombook.sqlite'))
  const { actor, vehicles, cookie } = await household(db)
  const app = await buildApp({ db, clock, config: { data: folder, host: '127.0.0.1', port: 0, timeZone: 'UTC' } })
  const get = async (url: string) => (await app.inject({ url, headers: { cookie } })).body
  const keys = reportOn(db, actor, vehicles[0] as string).document.components.map((one) => one.key)
  const asked = [
    { name: 'vehicle', urls: vehicles.map((id) => `/vehicles/${id}`) },
    { name: 'branch', urls: keys.slice(0, BRANCHES).map((key) => `/vehicles/${vehicles[0]}/components/${key}`) },
    { name: 'log', urls: vehicles.map((id) => `/vehicles/${id}/entries/new`) },
  ]
  const pages: Page[] = []
  const texts = new Map<string, string>()
  for (const page of asked) {
    const text = await get(page.urls[0] as string)
    texts.set(page.name, text)
    pages.push({ ...page, bare: `/${page.name}`, bytes: Buffer.byteLength(text) })
  }
  await app.listen({ host: '127.0.0.1', port: 0 })
  const barePort = await serveBare(folder, texts)
  let [writes, failed] = [0, 0]
  let writer: NodeJS.Timeout | null = null
  let writtenAt_s = 0
  const cpu_s = () => (process.cpuUsage().user + process.cpuUsage().system) / 1e6
  const write = () => {
    if (cpu_s() - writtenAt_s < WRITES_AFTER_s) return
    const vehicleId = vehicles[writes % vehicles.length] as string
    const changes = [{ kind: 'noted', text: `Looked at it, time ${writes}` }] as const
    const saved = append(db, clock, actor, { vehicleId, effectiveOn: today(clock, 'UTC'), title: `Looked at it ${writes}`, changes })
    writes++
    if (!saved.ok) failed++
    writtenAt_s = cpu_s()
  }
  process.on('message', (word) => {
    if (word === 'write on') writer = setInterval(write, 50)
    if (word === 'write off' && writer) clearInterval(writer)
    if (word === 'used') process.send?.({ word, cpu_s: cpu_s() } satisfies Used)
    if (word === 'memory') process.send?.({ word, ...memory() } satisfies Memory)
    if (word === 'written') process.send?.({ word, writes, failed } satisfies Told)
  })
  const { port } = app.server.address() as { readonly port: number }
  process.send?.({ word: 'ready', port, barePort, cookie, pages } satisfies Ready)
}

/** All that the process has at this moment; then what scripts hold, inside their heap and outside, once the rest is collected. */
function memory(): Omit<Memory, 'word'> {
  const rss_MB = process.memoryUsage.rss() / 1e6
  globalThis.gc?.()
  const { heapUsed, external } = process.memoryUsage()
  return { rss_MB, held_MB: (heapUsed + external) / 1e6 }
}

async function household(db: Db): Promise<{ readonly actor: Actor; readonly vehicles: readonly string[]; readonly cookie: string }> {
  const owner = createOwner(db, clock, { name: 'Owner', password: PASSWORD })
  if (!owner.ok) throw new Error('no owner')
  const demo = loadDemo(db, clock, owner.value)
  const signed = await signIn(db, clock, { name: 'Owner', password: PASSWORD })
  if (!demo.ok || !signed.ok || signed.value.state !== 'in') throw new Error('no demonstration')
  return { actor: owner.value, vehicles: demo.value.vehicleIds, cookie: `loombook_session=${signed.value.token}` }
}

/**
 * The same bytes as little as those three libraries can do for them: one row read for whoever asks, the page's pieces read from a table
 * and printed, unescaped, by a template.
 */
async function serveBare(folder: string, texts: ReadonlyMap<string, string>): Promise<number> {
  const client = openDatabase(join(folder, 'bare.sqlite')).$client
  client.exec('CREATE TABLE bare (page TEXT, n INTEGER, piece TEXT, PRIMARY KEY (page, n)) STRICT')
  const add = client.prepare('INSERT INTO bare VALUES (?, ?, ?)')
  for (const [page, text] of texts) {
    const size = Math.ceil(text.length / ROWS)
    for (let n = 0; n * size < text.length; n++) add.run(page, n, text.slice(n * size, (n + 1) * size))
  }
  const one = client.prepare('SELECT 1 FROM bare WHERE page = ? AND n = 0')
  const all = client.prepare('SELECT piece FROM bare WHERE page = ? ORDER BY n')
  const eta = new Eta({ cache: true, autoTrim: false })
  eta.loadTemplate('@bare', '<% for (const row of it.rows) { %><%~ row.piece %><% } %>')
  const bare = fastify()
  bare.get('/:page', async (request, reply) => {
    const { page } = request.params as { readonly page: string }
    if (one.get(page) === undefined) return reply.status(404).send()
    return reply.type('text/html; charset=utf-8').send(eta.render('@bare', { rows: all.all(page) }))
  })
  await bare.listen({ host: '127.0.0.1', port: 0 })
  return (bare.server.address() as { readonly port: number }).port
}
