/** Past 200 lines: the question, its ranking and its answer are one thing. Finds records by words. What is typed is never a query language: every word is quoted, and stands for all that begins with it. */
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import { positionLine, type SearchKind } from './search-rows.ts'

export type { SearchKind } from './search-rows.ts'
export const searchKinds: readonly SearchKind[] = ['component', 'entry', 'part', 'reading']

/** A piece of text, and whether it is what was sought. */
export type Piece = { readonly text: string; readonly sought: boolean }
export type Hit = {
  readonly kind: SearchKind
  /** id of the entry (for a reading, of the entry that holds it) or the part; the component's key */
  readonly id: string
  readonly vehicleId: string | null
  readonly vehicleName: string
  readonly title: readonly Piece[]
  readonly excerpt: readonly Piece[]
  /** date of the entry or reading */
  readonly on: string | null
  readonly withdrawn: boolean
}
export type Found = {
  readonly words: readonly string[]
  /** words past the first twelve were left out */
  readonly shortened: boolean
  readonly count: number
  /** there are more than were ranked: the newest ones were */
  readonly atLeast: boolean
  readonly page: number
  readonly pages: number
  readonly hits: readonly Hit[]
}

const perPage = 20
const mostRanked = 1000
const mostLetters = 200
const mostWords = 12
/** Noncharacters of Unicode, which no text should hold: they mark what was sought until it is told apart. */
const [opens, closes] = ['\ufdd0', '\ufdd1']

export function search(
  db: Db,
  actor: Actor,
  given: {
    readonly asked: string
    readonly vehicleId?: string | undefined
    readonly kind?: SearchKind | undefined
    readonly page?: number | undefined
  },
): Found {
  const { words, shortened } = wordsOf(given.asked)
  const nothing: Found = { words, shortened, count: 0, atLeast: false, page: 1, pages: 1, hits: [] }
  if (words.length === 0) return nothing
  const { match, ids: ranked } = rankedIds(db, actor, { ...given, words })
  if (ranked.length === 0) return nothing
  const count = Math.min(ranked.length, mostRanked)
  const pages = Math.ceil(count / perPage)
  const page = Math.min(pages, Math.max(1, Math.floor(given.page ?? 1) || 1))
  const ids = ranked.slice(0, count).slice((page - 1) * perPage, page * perPage)
  return { words, shortened, count, atLeast: ranked.length > mostRanked, page, pages, hits: hitsOf(db, actor, { ids, match }) }
}

export type Place = { readonly vehicleId: string; readonly vehicleName: string; readonly key: string; readonly name: string }

/** Today's components whose name, key or position is just that, in any vehicle; the first `most` of them. */
export function componentsCalled(db: Db, actor: Actor, asked: string, most = 20): readonly Place[] {
  const { words } = wordsOf(asked)
  if (words.length === 0) return []
  const wanted = asked.trim().toLowerCase()
  const found = idsAmongFew(db, actor, { match: phraseOf(asked), kind: 'component' })
  const rows = db.$client
    .prepare('SELECT ref_id AS ref, title, body FROM search_rows WHERE id IN (SELECT value FROM json_each(?)) AND +household_id = ?')
    .all(JSON.stringify(found), actor.householdId) as { ref: string; title: string; body: string }[]
  const exact = rows
    .sort((a, b) => (a.ref < b.ref ? -1 : 1))
    .flatMap(({ ref, title, body }) => {
      const [vehicleId = '', key = ''] = ref.split(' ')
      const said = [title, key].map((one) => one.toLowerCase())
      const isIt = said.includes(wanted) || body.toLowerCase().split('\n').includes(positionLine(wanted))
      return isIt ? [{ vehicleId, key, name: title }] : []
    })
    .slice(0, most)
  const ids = exact.map((one) => one.vehicleId)
  const names = vehicleNames(db, actor, ids)
  return exact.map((one) => ({ ...one, vehicleName: names.get(one.vehicleId) ?? '' }))
}

/** Words as typed: parted by spaces only, so that a part number or a thread stays whole. What has no letter or figure seeks nothing. */
export function wordsOf(asked: string): { readonly words: readonly string[]; readonly shortened: boolean } {
  const text = asked.replaceAll('\u0000', '').slice(0, mostLetters)
  const words = text.split(/\s+/).filter((word) => /[\p{L}\p{N}]/u.test(word))
  return { words: words.slice(0, mostWords), shortened: words.length > mostWords || asked.length > mostLetters }
}

/** A size may be typed without its raised two. One letter or figure alone stands for itself: it begins nearly everything. */
function begunBy(word: string): string {
  if (/^[^\p{L}\p{N}]*[\p{L}\p{N}][^\p{L}\p{N}]*$/u.test(word)) return quoted(word)
  const raised = word.replace(/(?<=m)2$/i, '²')
  return raised === word ? `${quoted(word)}*` : `(${quoted(word)}* OR ${quoted(raised)}*)`
}

function phraseOf(asked: string): string {
  return quoted(asked.replaceAll('\u0000', '').slice(0, mostLetters))
}

function quoted(text: string): string {
  return `"${text.replaceAll('"', '""')}"`
}

type Sought = { readonly match: string; readonly vehicleId?: string | undefined; readonly kind?: SearchKind | undefined }
type Ranked = { readonly match: string; readonly ids: readonly number[] }

/**
 * Best first: a word in a title counts for more. What thousands of records say tells nobody apart: there it is the words as they stand,
 * titles first, then the newest; one id more than are ranked says that there are more.
 */
function rankedIds(db: Db, actor: Actor, given: Omit<Sought, 'match'> & { readonly words: readonly string[] }): Ranked {
  const whole = given.words.map(quoted).join(' AND ')
  const begun = given.words.map(begunBy).join(' AND ')
  const { vehicleId, kind } = given
  if (vehicleId !== undefined || isFew(kind)) return { match: begun, ids: idsAmongFew(db, actor, { match: begun, vehicleId, kind }) }
  const asTheyStand = newestIds(db, actor, { match: whole, kind })
  const match = asTheyStand.length > mostRanked ? whole : begun
  const newest = asTheyStand.length > mostRanked ? asTheyStand : newestIds(db, actor, { match, kind })
  if (newest.length <= mostRanked) return { match, ids: byWeight(db, { match, ids: newest }) }
  const titled = newestIds(db, actor, { match: `title : (${match})`, kind })
  return { match, ids: [...new Set([...titled.slice(0, mostRanked), ...newest])].slice(0, mostRanked + 1) }
}

function newestIds(db: Db, actor: Actor, given: Pick<Sought, 'match' | 'kind'>): readonly number[] {
  const { match, kind } = given
  const sql = `SELECT r.id FROM search_index CROSS JOIN search_rows r ON r.id = search_index.rowid
    WHERE search_index MATCH ? AND r.household_id = ?${kind === undefined ? '' : ' AND kind = ?'} ORDER BY search_index.rowid DESC LIMIT ?`
  return db.$client
    .prepare(sql)
    .pluck()
    .all(match, actor.householdId, ...(kind === undefined ? [] : [kind]), mostRanked + 1) as number[]
}

/** Of one vehicle, or of components or parts, best first: these are few, so they are listed, and what matches is looked up in the list. */
function idsAmongFew(db: Db, actor: Actor, given: Sought): readonly number[] {
  const { match, vehicleId, kind } = given
  const isKind = kind === undefined ? '' : ' AND kind = ?'
  const mine =
    vehicleId === undefined
      ? `SELECT id FROM search_rows WHERE household_id = ?${isKind}`
      : `SELECT id FROM search_rows INDEXED BY search_rows_by_vehicle
         WHERE EXISTS (SELECT 1 FROM vehicles WHERE household_id = ? AND id = ?) AND vehicle_id = ?${isKind}`
  const values = [actor.householdId, ...(vehicleId === undefined ? [] : [vehicleId, vehicleId]), ...(kind === undefined ? [] : [kind])]
  const sql = `WITH mine AS MATERIALIZED (${mine}) SELECT rowid FROM search_index WHERE search_index MATCH ?
    AND rowid BETWEEN (SELECT min(id) FROM mine) AND (SELECT max(id) FROM mine) AND +rowid IN (SELECT id FROM mine)
    ORDER BY bm25(search_index, 8.0, 1.0), rowid DESC LIMIT ?`
  return db.$client
    .prepare(sql)
    .pluck()
    .all(...values, match, mostRanked + 1) as number[]
}

function byWeight(db: Db, given: Ranked): readonly number[] {
  if (given.ids.length < 2) return given.ids
  const sql = `SELECT rowid FROM search_index WHERE search_index MATCH ? AND rowid BETWEEN ? AND ? AND +rowid IN (SELECT value FROM json_each(?))
    ORDER BY bm25(search_index, 8.0, 1.0), rowid DESC`
  return db.$client
    .prepare(sql)
    .pluck()
    .all(given.match, ...reach(given.ids), JSON.stringify(given.ids)) as number[]
}

function isFew(kind: SearchKind | undefined): boolean {
  return kind === 'component' || kind === 'part'
}

/** The index is walked from the first to the last of them, once. */
function reach(ids: readonly number[]): readonly [number, number] {
  return [Math.min(...ids), Math.max(...ids)]
}

type Row = {
  readonly id: number
  readonly kind: SearchKind
  readonly ref: string
  readonly vehicleId: string | null
  readonly title: string
  readonly excerpt: string
  readonly on: string | null
  readonly withdrawn: number
}

function hitsOf(db: Db, actor: Actor, given: { readonly ids: readonly number[]; readonly match: string }): readonly Hit[] {
  const sql = `SELECT r.id, r.kind, r.ref_id AS ref, r.vehicle_id AS vehicleId, e.effective_on AS "on",
      highlight(search_index, 0, ?, ?) AS title, snippet(search_index, 1, ?, ?, '…', 18) AS excerpt,
      EXISTS (SELECT 1 FROM entries c WHERE c.corrects_id = e.id AND c.correction = 'withdrawn'
        AND NOT EXISTS (SELECT 1 FROM entries cc WHERE cc.corrects_id = c.id AND cc.correction = 'withdrawn')) AS withdrawn
    FROM search_index CROSS JOIN search_rows r ON r.id = search_index.rowid
    LEFT JOIN entries e ON r.kind IN ('entry', 'reading') AND e.id = substr(r.ref_id, 1, 36)
    WHERE search_index MATCH ? AND search_index.rowid BETWEEN ? AND ? AND +search_index.rowid IN (SELECT value FROM json_each(?))
      AND r.household_id = ?`
  const { ids, match } = given
  const rows = db.$client
    .prepare(sql)
    .all(opens, closes, opens, closes, match, ...reach(ids), JSON.stringify(ids), actor.householdId) as Row[]
  const names = vehicleNames(
    db,
    actor,
    rows.flatMap((row) => row.vehicleId ?? []),
  )
  const place = new Map(ids.map((id, index) => [id, index]))
  return [...rows]
    .sort((a, b) => (place.get(a.id) ?? 0) - (place.get(b.id) ?? 0))
    .map((row) => ({
      kind: row.kind,
      id: row.kind === 'component' ? (row.ref.split(' ')[1] as string) : row.ref.slice(0, 36),
      vehicleId: row.vehicleId,
      vehicleName: row.vehicleId === null ? '' : (names.get(row.vehicleId) ?? ''),
      title: piecesOf(row.title),
      excerpt: piecesOf(row.excerpt.replaceAll('\n', ' · ')),
      on: row.on,
      withdrawn: row.withdrawn === 1,
    }))
}

function piecesOf(marked: string): readonly Piece[] {
  return marked
    .split(opens)
    .flatMap((run, index) => {
      const [first = '', ...rest] = run.split(closes)
      return [
        { text: first, sought: index > 0 && rest.length > 0 },
        { text: rest.join(''), sought: false },
      ]
    })
    .filter((piece) => piece.text !== '')
}

/** As they are called today, not as they were first recorded. */
function vehicleNames(db: Db, actor: Actor, ids: readonly string[]): ReadonlyMap<string, string> {
  const sql = 'SELECT vehicle_id AS id, name FROM vehicle_facts WHERE vehicle_id IN (SELECT value FROM json_each(?)) AND household_id = ?'
  const rows = db.$client.prepare(sql).all(JSON.stringify(ids), actor.householdId) as { id: string; name: string }[]
  return new Map(rows.map((row) => [row.id, row.name]))
}
