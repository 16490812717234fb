/**
 * Saves entries while the disk fails a write or a flush of the log of writes. Arguments: a folder; `writes` to fail the writes here, one
 * further on each time, `flushes` where something outside fails flushes of `tried/loombook.sqlite-wal`. One line of JSON for each save.
 */
import { spawnSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { copyFileSync, existsSync, mkdirSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { buildApp } from '../../server/app.ts'
import { closeDatabase, foldLog, openDatabase } from '../../server/records/database.ts'
import { openBook } from '../pages/book.ts'

const [folder = '', way = ''] = process.argv.slice(2)
const WORKED_OUT = ['projections', 'projection_parts', 'vehicle_facts']
const [made, tried, cut] = ['made', 'tried', 'cut'].map((name) => join(folder, name)) as [string, string, string]
for (const one of [made, tried, cut]) mkdirSync(one)

// Made in one file and tried in a copy of it, so that nothing of the making fails.
const book = await openBook({ demo: false, data: made })
const V = ((await book.post('/vehicles', { name: 'Fern', systemVoltage_V: '12' })).headers.location as string).split('?')[0] as string
foldLog(book.db)
copyFileSync(join(made, 'loombook.sqlite'), join(tried, 'loombook.sqlite'))
const db = openDatabase(join(tried, 'loombook.sqlite'))
const app = await buildApp({ db, clock: book.clock, config: { data: tried, host: '127.0.0.1', port: 0, timeZone: 'UTC' } })

/** From this size on, nothing more goes into any file of this process (RLIMIT_FSIZE, setrlimit(2)): a write beyond fails with EFBIG. */
function limit(bytes: number | 'unlimited'): void {
  const ran = spawnSync('prlimit', ['--pid', String(process.pid), `--fsize=${bytes}:`], { encoding: 'utf8' })
  if (ran.status !== 0) throw new Error(ran.error?.message ?? ran.stderr)
}

const save = (title: string) =>
  app.inject({
    method: 'POST',
    url: `${V}/entries`,
    headers: { cookie: book.cookie, 'content-type': 'application/x-www-form-urlencoded' },
    payload: new URLSearchParams({
      ...{ _token: book.token, verb: 'noted', title, text: 'x'.repeat(1500), on: '2026-11-20', do: 'save' },
      once: `once-${title}`,
    }).toString(),
  })
const reads = async () => (await app.inject({ url: V, headers: { cookie: book.cookie } })).statusCode

/** Every row of every table but what is worked out from the others and kept beside them. */
function rowsOf(client: Database.Database): string {
  const names = client.prepare("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name").pluck().all() as string[]
  const kept = names.filter((name) => !WORKED_OUT.includes(name))
  return createHash('sha256')
    .update(JSON.stringify(kept.map((name) => [name, client.prepare(`SELECT * FROM "${name}"`).raw().all()])))
    .digest('hex')
}

/** What a start finds if the process ends at this moment: the files as they are, and no memory shared with anybody. */
function afterCut(title: string) {
  const file = join(cut, 'loombook.sqlite')
  for (const end of ['', '-wal', '-shm']) {
    rmSync(`${file}${end}`, { force: true })
    if (end !== '-shm' && existsSync(join(tried, `loombook.sqlite${end}`)))
      copyFileSync(join(tried, `loombook.sqlite${end}`), `${file}${end}`)
  }
  const client = new Database(file)
  try {
    return {
      rows: rowsOf(client),
      count: countOf(client, title),
      sound: client.pragma('integrity_check', { simple: true }),
      loose: (client.pragma('foreign_key_check') as unknown[]).length,
    }
  } finally {
    client.close()
  }
}
const countOf = (client: Database.Database, title: string) =>
  Number(client.prepare('SELECT count(*) FROM entries WHERE title = ?').pluck().get(title))

async function attempt(title: string) {
  const before = rowsOf(db.$client)
  const { statusCode: status, body } = await save(title)
  const says = status === 303 ? '' : body
  return {
    title,
    status,
    says: /[^<>]*Nothing was saved[^<>]*/.exec(says)?.[0] ?? says.slice(0, 200),
    asBefore: rowsOf(db.$client) === before,
  }
}
async function tell(answer: Awaited<ReturnType<typeof attempt>>, more: object) {
  const found = afterCut(answer.title)
  const same = found.rows === rowsOf(db.$client)
  const line = {
    ...answer,
    ...more,
    live: countOf(db.$client, answer.title),
    reads: await reads(),
    cut: { ...found, rows: undefined, same },
  }
  process.stdout.write(`${JSON.stringify(line)}\n`)
}

if (way === 'writes') {
  // Where in the log the first write fails: in its header of 32 bytes, then by turns before a frame of 4120, after the frame's own
  // header of 24, and within its page (SQLite file format, section 4).
  const place = (frame: number) => 32 + frame * 4120 + ([0, 24, 2000][frame % 3] as number)
  let saved = false
  for (let frame = -1; !saved && frame < 400; frame += 1)
    for (const bytes of frame < 0 ? [0, 20] : [place(frame)]) {
      const title = `Cut at ${bytes}`
      foldLog(db)
      // Twice while it lasts, then once more with the disk well again.
      limit(bytes)
      const first = await attempt(title)
      const second = await attempt(title)
      limit('unlimited')
      await tell(first, { bytes, when: 'failing' })
      await tell(second, { bytes, when: 'failing' })
      await tell(await attempt(title), { bytes, when: 'well again' })
      saved = first.status === 303
    }
} else
  for (let n = 0; n < 4; n += 1)
    for (let again = 0; again < 2; again += 1) {
      const answer = await attempt(`Save ${n}`)
      await tell(answer, { when: again === 0 ? 'first' : 'again' })
      if (answer.status === 303) break
    }
limit('unlimited')
await app.close()
closeDatabase(db)
await book.close()
