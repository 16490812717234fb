/** Sends requests at random to every address the server answers, and says what it saw. */
import { createHash } from 'node:crypto'
import { beginSession } from '../../server/records/sessions.ts'
import { type ApiBook, openBook } from '../api/book.ts'
import { tokenIn } from './book.ts'
import { knownWords, randomFrom, requestFor, type Sent, type Who } from './request-words.ts'

export type Seen = {
  readonly cases: number
  readonly byStatus: Readonly<Record<string, number>>
  /** how many of those that could write by right did write something */
  readonly wrote: number
  /** patterns that were met, of how many */
  readonly met: number
  readonly patterns: number
  readonly faults: readonly string[]
}
type Session = { readonly cookie: string; readonly token: string }

/** Only these two may change anything. */
const BY_RIGHT: readonly Who[] = ['owner', 'writes']
const WITHOUT: readonly Who[] = ['nobody', 'planted', 'no token', 'wrong token', 'foreign', 'viewer', 'reads', 'no program']
/** Made anew from the journal at will, so a page may write them for anybody; and the log of what was refused. */
const NOT_RECORDS = ['projections', 'projection_parts', 'vehicle_facts', 'security_events']
/** Long to do: so often and no more. */
const LONG = /backups|archive|restor|import|demonstration|password|^\/sessions$|first-run|second-factor|confirm|\/join|webhooks/
const MOST_LONG = 40
/** What even a viewer may change: the own password, second factor and sessions. */
const OWN = /^\/(account|sessions|confirm)/
/** After so many the records are compared, where none of them may have changed. */
const BLOCK = 250
const VIEWER = '0190a000-0000-7000-8000-00000000000f'

export async function fuzzRequests(given: {
  readonly count: number
  readonly seed: number
  readonly say?: (line: string) => void
}): Promise<Seen> {
  const random = randomFrom(given.seed)
  const book = await openBook()
  const known = await knownWords(book)
  const routes = book.app.answered.filter(({ method }) => method !== 'HEAD')
  const often = new Map<string, number>()
  const byStatus: Record<string, number> = {}
  const met = new Set<string>()
  const faults: string[] = []
  let [cases, wrote] = [0, 0]
  addViewer(book)
  const viewer = await sessionOf(book, VIEWER)
  let owner = await sessionOf(book, book.actor.personId)
  // That a token was used is noted, once a while: now, and not while records are compared.
  for (const as of ['read', 'write'] as const) await book.ask('/api/vehicles', { as })

  const send = async (who: Who): Promise<void> => {
    const route = random.one(routes)
    if (who === 'viewer' && OWN.test(route.url)) return
    const times = often.get(route.url) ?? 0
    if (LONG.test(route.url) && times >= MOST_LONG) return
    often.set(route.url, times + 1)
    const session = who === 'viewer' ? viewer : owner
    const request = requestFor({ who, route, random, known, session, tokens: book.tokens })
    const name = `seed ${given.seed}, case ${cases++}, ${who}`
    const before = changesOf(book)
    try {
      const reply = await book.app.inject(request as never)
      byStatus[reply.statusCode] = (byStatus[reply.statusCode] ?? 0) + 1
      met.add(route.url)
      if (reply.statusCode >= 500) faults.push(`${name}: ${reply.statusCode} to ${told(request)}`)
      if (who === 'owner' && reply.statusCode === 303 && String(reply.headers.location).startsWith('/login')) owner = await renewed(book)
    } catch (fault) {
      faults.push(`${name}: ${String(fault instanceof Error ? fault.stack : fault).slice(0, 500)} by ${told(request)}`)
    }
    if (BY_RIGHT.includes(who) && changesOf(book) !== before) wrote++
  }

  for (let block = 0; cases < given.count; block++) {
    const end = Math.min(given.count, cases + BLOCK)
    const isByRight = block % 2 === 1
    if (isByRight) owner = await renewed(book)
    const before = isByRight ? '' : digest(book)
    while (cases < end) await send(random.one(isByRight ? BY_RIGHT : WITHOUT))
    if (!isByRight && digest(book) !== before)
      faults.push(`seed ${given.seed}, cases up to ${cases}: a record changed without the right to`)
    if (block % 20 === 19) given.say?.(`${cases} of ${given.count}: ${JSON.stringify(byStatus)}, ${wrote} wrote, ${faults.length} faults`)
  }
  await book.close()
  return { cases, byStatus, wrote, met: met.size, patterns: new Set(routes.map(({ url }) => url)).size, faults }
}

function changesOf(book: ApiBook): number {
  return Number(book.db.$client.prepare('SELECT total_changes()').pluck().get())
}

/** All records in one word. */
function digest({ db }: ApiBook): string {
  const tables = db.$client
    .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name")
    .pluck()
    .all() as string[]
  const hash = createHash('sha256')
  for (const table of tables.filter((one) => !NOT_RECORDS.includes(one))) {
    hash.update(`\n${table}\n`)
    for (const row of db.$client.prepare(`SELECT * FROM "${table}"`).raw().iterate())
      hash.update(JSON.stringify(row, (_, value) => (Buffer.isBuffer(value) ? value.toString('base64') : value)))
  }
  return hash.digest('hex')
}

/** A second person of the same household, who may look and nothing else. */
function addViewer(book: ApiBook): void {
  const same = 'household_id, password_hash, recorded_at'
  book.db.$client
    .prepare(
      `INSERT INTO people (id, name, name_folded, role, ${same}) SELECT ?, 'Vera', 'vera', 'viewer', ${same} FROM people WHERE id = ?`,
    )
    .run(VIEWER, book.actor.personId)
}

/** The owner may have been shut out, or made a viewer, by what was sent. */
function renewed(book: ApiBook): Promise<Session> {
  book.db.$client.prepare("UPDATE people SET role = 'owner', disabled_at = NULL WHERE id = ?").run(book.actor.personId)
  book.db.$client.prepare("UPDATE people SET role = 'viewer', disabled_at = NULL WHERE id = ?").run(VIEWER)
  return sessionOf(book, book.actor.personId)
}

async function sessionOf(book: ApiBook, id: string): Promise<Session> {
  const begun = beginSession(book.db, book.clock, { id, householdId: book.actor.householdId }, { device: '', address: '' })
  const cookie = `loombook_session=${begun}`
  return { cookie, token: tokenIn((await book.app.inject({ url: '/rules', headers: { cookie } })).body) }
}

function told({ method, url, headers, payload }: Sent): string {
  return `${method} ${url.slice(0, 300)} ${JSON.stringify(headers).slice(0, 400)} ${JSON.stringify(String(payload ?? '').slice(0, 400))}`
}
