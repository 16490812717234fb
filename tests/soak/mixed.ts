/** A household far busier than any: many people looking, logging and sending photos at once, while somebody takes a long copy of everything. */

import { readFileSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import Database from 'better-sqlite3'
import sharp from 'sharp'

export type Mixed = {
  readonly requests: number
  readonly writes: number
  /** answers of 500 and more, each with its status, address and beginning */
  readonly faults: readonly string[]
  /** answers that speak of a database held by somebody else */
  readonly busy: number
  readonly writes_ms: readonly number[]
  readonly reads_ms: readonly number[]
  readonly entries: number
  /** of the archive that was downloaded meanwhile */
  readonly archive_bytes: number
}
export type Memory = { readonly at_s: number; readonly rss_MB: number; readonly files: number }

type Given = {
  readonly url: string
  readonly cookie: string
  readonly token: string
  readonly vehicles: readonly string[]
  readonly data: string
  readonly clients: number
  readonly lasts_s: number
  readonly reader_s: number
  /** between an answer and what the same client asks next; none unless said */
  readonly pause_ms?: number
}

/** Runs until the time is over and every request is answered. */
export async function mixed(given: Given): Promise<Mixed> {
  const till_ms = performance.now() + given.lasts_s * 1000
  const faults: string[] = []
  const [writes_ms, reads_ms]: [number[], number[]] = [[], []]
  let [busy, entries] = [0, 0]
  const ask = async (path: string, how: RequestInit, kept: number[]): Promise<number> => {
    const from_ms = performance.now()
    const reply = await fetch(given.url + path, { redirect: 'manual', ...how, headers: { cookie: given.cookie, ...how.headers } })
    const text = await reply.text()
    kept.push(performance.now() - from_ms)
    if (text.includes('in use by another program') || text.includes('SQLITE_BUSY')) busy += 1
    if (reply.status >= 500) faults.push(`${reply.status} ${path} ${text.slice(0, 200)}`)
    return reply.status
  }
  const client = async (n: number) => {
    for (let turn = 0; performance.now() < till_ms; turn++) {
      if (given.pause_ms) await wait(given.pause_ms * (0.5 + Math.random()))
      const vehicle = `/vehicles/${given.vehicles[(n + turn) % given.vehicles.length]}`
      const kind = (n * 7 + turn) % 10
      if (kind < 3) {
        const fields = {
          _token: given.token,
          once: `soak-${n}-${turn}`,
          verb: 'noted',
          on: '2026-11-20',
          text: `Looked at, ${n}.${turn}`,
          do: 'save',
        }
        const status = await ask(`${vehicle}/entries`, { method: 'POST', body: new URLSearchParams(fields) }, writes_ms)
        if (status === 303) entries += 1
        else faults.push(`${status} an entry was not taken`)
      } else if (kind === 3 && turn % 5 === 0)
        await ask(`${vehicle}/photos`, { method: 'POST', body: await photoForm(given.token, n, turn) }, [])
      else
        await ask(
          ['/', vehicle, `${vehicle}/journal`, `${vehicle}/entries/new`, '/search?q=relay', '/shelf'][kind % 6] as string,
          {},
          reads_ms,
        )
    }
  }
  const [archive_bytes] = await Promise.all([
    download(given),
    holdReader(given),
    ...Array.from({ length: given.clients }, (_, n) => client(n)),
  ])
  return {
    requests: writes_ms.length + reads_ms.length,
    writes: writes_ms.length,
    faults,
    busy,
    writes_ms,
    reads_ms,
    entries,
    archive_bytes,
  }
}

/** Nearest-rank percentile of times in milliseconds. */
export function percentile(times_ms: readonly number[], share: number): number {
  const sorted = [...times_ms].sort((a, b) => a - b)
  return sorted[Math.max(0, Math.ceil(share * sorted.length) - 1)] ?? Number.NaN
}

/** Least squares through memory over time, and its standard error: what of the slope the ups and downs alone could make. */
export function slope_MBperH(points: readonly Pick<Memory, 'at_s' | 'rss_MB'>[]): { readonly slope: number; readonly error: number } {
  const mean = (all: readonly number[]) => all.reduce((sum, one) => sum + one, 0) / all.length
  const [at_s, rss_MB] = [mean(points.map((one) => one.at_s)), mean(points.map((one) => one.rss_MB))]
  const above = points.reduce((sum, one) => sum + (one.at_s - at_s) * (one.rss_MB - rss_MB), 0)
  const below = points.reduce((sum, one) => sum + (one.at_s - at_s) ** 2, 0)
  const slope = above / below
  const left = points.reduce((sum, one) => sum + (one.rss_MB - rss_MB - slope * (one.at_s - at_s)) ** 2, 0)
  return { slope: slope * 3600, error: Math.sqrt(left / (points.length - 2) / below) * 3600 }
}

export function walBytes(data: string): number {
  try {
    return statSync(join(data, 'loombook.sqlite-wal')).size
  } catch {
    return 0
  }
}

/** What a process holds: memory and open files. proc(5). */
export function memoryOf(id: number, at_s: number, files: number): Memory {
  return { at_s, files, rss_MB: Number(/VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${id}/status`, 'utf8'))?.[1]) / 1024 }
}

/** Everything as one archive, taken in slowly. */
async function download(given: Given): Promise<number> {
  const reply = await fetch(`${given.url}/archive/download`, { headers: { cookie: given.cookie } })
  let bytes = 0
  const reader = reply.body?.getReader()
  for (;;) {
    const { done, value } = (await reader?.read()) ?? { done: true, value: undefined }
    if (done) return bytes
    bytes += value?.length ?? 0
    await wait(20)
  }
}

/** Another program that reads the database and lets nothing be folded in meanwhile. */
async function holdReader(given: Given): Promise<void> {
  const client = new Database(join(given.data, 'loombook.sqlite'), { readonly: true })
  client.exec('BEGIN')
  client.prepare('SELECT count(*) FROM entries').get()
  await wait(given.reader_s * 1000)
  client.exec('COMMIT')
  client.close()
}

async function photoForm(token: string, n: number, turn: number): Promise<FormData> {
  const bytes = await sharp({ create: { width: 320, height: 240, channels: 3, background: { r: n, g: turn % 255, b: 90 } } })
    .jpeg()
    .toBuffer()
  const form = new FormData()
  form.append('_token', token)
  form.append('photo', new Blob([new Uint8Array(bytes)], { type: 'image/jpeg' }), 'a.jpg')
  return form
}
