/** Past 200 lines: one experiment. The real server is killed with SIGKILL while it is written to over HTTP, started again, and everything it answered for is looked for. */
import { createHash, randomBytes, randomInt } from 'node:crypto'
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { basename, join } from 'node:path'
import { setTimeout as pause } from 'node:timers/promises'
import Database from 'better-sqlite3'
import sharp from 'sharp'
import { wrongRows } from '../../server/records/digests.ts'
import { photoName } from '../../server/records/photo-path.ts'
import { type Answer, type Asked, fileForm, firstOwner, formOf, type Running, startServer, tokenIn } from './server.ts'

export type Outcome = {
  readonly rounds: number
  /** kills that came while at least one write had been sent whole and not been answered */
  readonly struck: number
  readonly answered: Readonly<Record<string, number>>
  readonly unanswered: number
  /** of those sent and not answered: how many were there after the restart all the same */
  readonly keptAnyway: number
  readonly restarts_ms: readonly number[]
  readonly faults: readonly string[]
}

const WRITERS = 3
/** The first and the last moment of a kill, counted from the first write of its round. */
const KILL_ms = [5, 500] as const
const CLEARANCE_rounds = 50

/** What has been answered for, and so must be there after every kill. */
class Promised {
  /** title of an entry → how many photos came with it */
  readonly entries = new Map<string, number>()
  readonly photos = new Map<string, string>()
  readonly withdrawn = new Set<string>()
  readonly trashed = new Set<string>()
  /** sent, and no answer came: may be there or not, but never in part */
  readonly open = new Map<string, { readonly photos: number }>()
}

export async function killRounds(given: {
  readonly rounds: number
  readonly program: readonly string[]
  readonly tell?: (line: string) => void
}): Promise<Outcome> {
  const data = mkdtempSync(join(tmpdir(), 'kill-'))
  const promised = new Promised()
  const faults: string[] = []
  const answered: Record<string, number> = {}
  const restarts_ms: number[] = []
  let [struck, unanswered, keptAnyway] = [0, 0, 0]
  let server = await startServer({ program: given.program, data })
  try {
    const browser = await firstOwner(server)
    const made = await post(server, browser, '/vehicles', formOf({ _token: browser.token, name: 'Fern', systemVoltage_V: '12' })).answer
    const part = await post(
      server,
      browser,
      '/parts',
      formOf({ _token: browser.token, kind: 'fuse', name: 'Blade fuse 10 A', rated_A: '10', 'grade-rated_A': 'marked' }),
    ).answer
    if (made.status !== 303 || part.status !== 303) throw new Error(`nothing to write to: ${made.status}, ${part.status}`)
    const place: Place = { ...browser, vehicle: made.location.split('?')[0] as string, part: idIn(part.location, 'parts') }
    for (let round = 1; round <= given.rounds; round += 1) {
      const inFlight = new Set<Asked>()
      const writers = { isOver: false }
      const done = Array.from({ length: WRITERS }, (_, n) =>
        writer({ server, place, promised, inFlight, writers, answered, name: `${round}.${n}` }),
      )
      await pause(randomInt(KILL_ms[0], KILL_ms[1]))
      writers.isOver = true
      const hanging = [...inFlight].filter((one) => one.isSent()).length
      await server.kill()
      faults.push(...(await Promise.all(done)).flat())
      if (hanging > 0) struck += 1
      unanswered += hanging
      const began = performance.now()
      server = await startServer({ program: given.program, data })
      restarts_ms.push(performance.now() - began)
      const found = lookThrough(data, promised, { everyPhoto: round % CLEARANCE_rounds === 0 || round === given.rounds })
      faults.push(...found.faults.map((fault) => `round ${round}: ${fault}`))
      keptAnyway += found.keptAnyway
      // The session is a record like any other.
      const home = await server.ask({ path: place.vehicle, headers: { cookie: place.cookie } }).answer
      if (home.status !== 200 || tokenIn(home.body) === '') faults.push(`round ${round}: signed out, or no page: ${home.status}`)
      if (round % 25 === 0) given.tell?.(`${round} rounds: ${struck} kills with a write unanswered, ${faults.length} faults`)
    }
  } finally {
    await server.kill()
    rmSync(data, { recursive: true, force: true })
  }
  return { rounds: given.rounds, struck, answered, unanswered, keptAnyway, restarts_ms, faults }
}

type Place = { readonly cookie: string; readonly token: string; readonly vehicle: string; readonly part: string }
type Writing = {
  readonly server: Running
  readonly place: Place
  readonly promised: Promised
  readonly inFlight: Set<Asked>
  readonly writers: { readonly isOver: boolean }
  readonly answered: Record<string, number>
  readonly name: string
}

/** Writes one thing after another until the server is gone. Answers what the server refused, which it had no reason to. */
async function writer(at: Writing): Promise<readonly string[]> {
  const faults: string[] = []
  for (let n = 1; !at.writers.isOver; n += 1) {
    const what = WRITES[randomInt(WRITES.length)] as (typeof WRITES)[number]
    try {
      await what(at, `${at.name}.${n}`)
    } catch (fault) {
      if (fault instanceof Refused) faults.push(fault.message)
      else if (!isCut(fault)) throw fault
      return faults
    }
  }
  return faults
}

class Refused extends Error {}

const WRITES = [note, note, fitted, photo, jobWithPhotos, edit, withdraw, trash] as const

async function note(at: Writing, name: string): Promise<void> {
  await entry(at, { title: `Note ${name}`, kind: 'note', fields: { verb: 'noted', text: 'Looked at '.repeat(randomInt(1, 200)) } })
}

/** An entry, its change, a part, its revision and a move of stock: several tables, one save. */
async function fitted(at: Writing, name: string): Promise<void> {
  await entry(at, { title: `Fitted ${name}`, kind: 'fitted', fields: { verb: 'fitted', name: `Fuse ${name}`, part: at.place.part } })
}

async function photo(at: Writing): Promise<string> {
  const bytes = await picture()
  const sha256 = createHash('sha256').update(bytes).digest('hex')
  const reply = await send(at, 'photo', `${at.place.vehicle}/photos`, {
    ...fileForm({ _token: at.place.token }, { name: 'a.png', bytes }),
    accept: 'application/json',
  })
  const id = (JSON.parse(reply.body) as { photos: { id: string }[] }).photos[0]?.id as string
  at.promised.photos.set(id, sha256)
  return id
}

async function jobWithPhotos(at: Writing, name: string): Promise<void> {
  const photos = [await photo(at), await photo(at)]
  await entry(at, { title: `Job ${name}`, kind: 'job', photos, fields: { verb: 'noted', text: 'With photos' } })
}

async function edit(at: Writing, name: string): Promise<void> {
  const id = await entry(at, { title: `To edit ${name}`, kind: 'note', fields: { verb: 'noted', text: 'Before' } })
  const title = `Edited ${name}`
  at.promised.open.set(title, { photos: 0 })
  await send(
    at,
    'edit',
    `/entries/${id}/corrections`,
    formOf({ _token: at.place.token, on: '2026-01-05', title, text: 'After', 'keep-0': 'yes' }),
  )
  at.promised.open.delete(title)
  at.promised.entries.set(title, 0)
}

async function withdraw(at: Writing, name: string): Promise<void> {
  const id = await entry(at, { title: `To delete ${name}`, kind: 'note', fields: { verb: 'noted', text: 'Gone soon' } })
  await send(at, 'delete', `/entries/${id}/withdrawals`, formOf({ _token: at.place.token }))
  at.promised.withdrawn.add(id)
}

async function trash(at: Writing): Promise<void> {
  const id = await photo(at)
  await send(at, 'trash', `/photos/${id}/trash`, formOf({ _token: at.place.token }))
  at.promised.trashed.add(id)
}

async function entry(
  at: Writing,
  given: { readonly title: string; readonly kind: string; readonly fields: Record<string, string>; readonly photos?: readonly string[] },
): Promise<string> {
  const { title, photos = [] } = given
  at.promised.open.set(title, { photos: photos.length })
  const fields = { _token: at.place.token, title, on: '2026-01-05', do: 'save', ...given.fields, photos }
  const reply = await send(at, given.kind, `${at.place.vehicle}/entries`, formOf(fields))
  at.promised.open.delete(title)
  at.promised.entries.set(title, photos.length)
  return idIn(reply.location, 'entries')
}

/** Answered with 201 or 303, which says that it is saved; anything else was no reason for. */
async function send(
  at: Writing,
  kind: string,
  path: string,
  form: { readonly headers: Record<string, string>; readonly body: Buffer | string; readonly accept?: string },
): Promise<Answer> {
  const asked = post(at.server, at.place, path, form)
  at.inFlight.add(asked)
  const reply = await asked.answer.finally(() => at.inFlight.delete(asked))
  if (reply.status !== 303 && reply.status !== 201)
    throw new Refused(`${kind} was answered with ${reply.status}: ${reply.body.replace(/<[^>]*>/g, ' ').slice(0, 600)}`)
  at.answered[kind] = (at.answered[kind] ?? 0) + 1
  return reply
}

function post(
  server: Running,
  browser: { readonly cookie: string },
  path: string,
  form: { readonly headers: Record<string, string>; readonly body: Buffer | string; readonly accept?: string },
): Asked {
  const accept = form.accept === undefined ? {} : { accept: form.accept }
  const length = String(Buffer.byteLength(form.body))
  return server.ask({
    method: 'POST',
    path,
    headers: { cookie: browser.cookie, ...form.headers, ...accept, 'content-length': length },
    body: form.body,
  })
}

/** The files as they lie there, read by another connection while the server is up again. */
function lookThrough(
  data: string,
  promised: Promised,
  given: { readonly everyPhoto: boolean },
): { readonly faults: readonly string[]; readonly keptAnyway: number } {
  const file = new Database(join(data, 'loombook.sqlite'), { readonly: true })
  const faults: string[] = []
  let keptAnyway = 0
  try {
    const sound = file.pragma('integrity_check', { simple: true })
    if (sound !== 'ok') faults.push(`integrity_check says ${String(sound)}`)
    const loose = file.pragma('foreign_key_check') as unknown[]
    if (loose.length > 0) faults.push(`${loose.length} rows point to nothing`)
    // An entry's digest is written with it and covers its changes: half an entry would not fit it.
    for (const row of wrongRows(file)) faults.push(`${row.table} ${row.id} is ${row.fault}`)
    const entries = new Map<string, { readonly id: string; readonly changes: number; readonly photos: number; readonly moves: number }>()
    const rows = file
      .prepare(
        `SELECT title, id, (SELECT count(*) FROM changes WHERE entry_id = e.id) AS changes,
          (SELECT count(*) FROM photos WHERE entry_place_id = e.id) AS photos,
          (SELECT count(*) FROM stock_moves WHERE entry_id = e.id) AS moves FROM entries e WHERE correction IS NULL OR correction = 'replaced'`,
      )
      .all() as { title: string; id: string; changes: number; photos: number; moves: number }[]
    for (const row of rows) {
      if (entries.has(row.title)) faults.push(`“${row.title}” is there twice`)
      entries.set(row.title, row)
    }
    const whole = (title: string, photos: number) => {
      const row = entries.get(title)
      if (!row) return false
      if (row.changes !== 1) faults.push(`“${title}” has ${row.changes} changes`)
      if (row.photos !== photos) faults.push(`“${title}” has ${row.photos} photos of ${photos}`)
      if (title.startsWith('Fitted') && row.moves !== 1) faults.push(`“${title}” moved stock ${row.moves} times`)
      return true
    }
    for (const [title, photos] of promised.entries) if (!whole(title, photos)) faults.push(`“${title}” was answered for and is gone`)
    for (const [title, { photos }] of promised.open) {
      if (whole(title, photos)) {
        keptAnyway += 1
        promised.entries.set(title, photos)
      }
      promised.open.delete(title)
    }
    const undone = new Set(file.prepare("SELECT corrects_id FROM entries WHERE correction = 'withdrawn'").pluck().all())
    for (const id of promised.withdrawn) if (!undone.has(id)) faults.push(`the entry ${id} was withdrawn and is not`)
    faults.push(...photoFaults(file, data, { promised, ...given }))
  } finally {
    file.close()
  }
  return { faults, keptAnyway }
}

/** Every row has its whole file; every file is whole under its own name, even one that no row came to name. */
function photoFaults(
  file: Database.Database,
  data: string,
  given: { readonly promised: Promised; readonly everyPhoto: boolean },
): string[] {
  const faults: string[] = []
  const rows = file.prepare('SELECT id, sha256, type, trashed_at FROM photos').all() as {
    id: string
    sha256: string
    type: string
    trashed_at: string | null
  }[]
  const byId = new Map(rows.map((row) => [row.id, row]))
  for (const [id, sha256] of given.promised.photos)
    if (byId.get(id)?.sha256 !== sha256) faults.push(`the photo ${id} was answered for and is ${byId.has(id) ? 'another' : 'gone'}`)
  for (const id of given.promised.trashed) if (byId.get(id)?.trashed_at === null) faults.push(`the photo ${id} was thrown away and is back`)
  for (const row of rows) if (!existsSync(join(data, photoName(row)))) faults.push(`the photo ${row.id} has a row and no file`)
  if (!given.everyPhoto || !existsSync(join(data, 'photos'))) return faults
  for (const one of readdirSync(join(data, 'photos'), { recursive: true, withFileTypes: true })) {
    if (!one.isFile()) continue
    const hash = createHash('sha256')
      .update(readFileSync(join(one.parentPath, one.name)))
      .digest('hex')
    if (!one.name.startsWith(hash)) faults.push(`the file ${one.name} is not what its name says`)
  }
  return faults
}

function isCut(fault: unknown): boolean {
  const code = (fault as { code?: string }).code ?? ''
  return ['ECONNRESET', 'ECONNREFUSED', 'EPIPE'].includes(code) || /cut off|socket hang up|aborted/.test((fault as Error).message)
}

function idIn(location: string, kind: string): string {
  const id = basename(location.split('?')[0] as string)
  if (!location.includes(`/${kind}/`) || id.length !== 36) throw new Error(`no id of ${kind} in ${location}`)
  return id
}

async function picture(): Promise<Buffer> {
  const side = randomInt(8, 40)
  return sharp(randomBytes(side * side * 3), { raw: { width: side, height: side, channels: 3 } })
    .png()
    .toBuffer()
}
