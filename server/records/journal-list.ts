/** The journal as its page lists it: only the rows that are shown are read, newest first. */
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import { factsOf } from './projection.ts'

export type ListedEntry = {
  readonly id: string
  readonly effectiveOn: string
  readonly title: string
  readonly odometer_km: number | null
  readonly cost_minor: number | null
  /** findings that the entry made appear */
  readonly appeared: number
  readonly withdrawn: boolean
  /** it took the place of an earlier version */
  readonly corrected: boolean
}
export type JournalList = {
  readonly count: number
  readonly entries: readonly ListedEntry[]
  /** of the entries that stand, by year */
  readonly costs_minor: Readonly<Record<string, number>>
}
type Range = (count: number) => { readonly from: number; readonly most: number }

/** `contains` looks in titles, texts and sentences, as the search rows hold them. */
export function journalList(
  db: Db,
  actor: Actor,
  vehicleId: string,
  given: { readonly contains?: string | undefined; readonly until?: string | undefined; readonly range: Range },
): JournalList {
  const wanted = given.contains?.trim().toLowerCase() ?? ''
  const until = given.until ?? LAST_DAY
  if (wanted !== '') return saying(db, actor, { vehicleId, wanted, until, range: given.range })
  const { count, costs_minor } = given.until === undefined ? totals(db, actor, vehicleId) : totalsUntil(db, actor, { vehicleId, until })
  const { from, most } = given.range(count)
  const sql = `SELECT ${columns} FROM entries e WHERE e.vehicle_id = ? AND e.household_id = ? AND e.effective_on <= ? AND ${listed}
    ORDER BY e.effective_on DESC, e.place_id DESC LIMIT ? OFFSET ?`
  const rows = db.$client.prepare(sql).all(vehicleId, actor.householdId, until, most, from) as Row[]
  return { count, entries: rows.map(entryOf), costs_minor }
}

const LAST_DAY = '9999-12-31'

function totals(db: Db, actor: Actor, vehicleId: string): Pick<JournalList, 'count' | 'costs_minor'> {
  const facts = factsOf(db, actor, [vehicleId]).get(vehicleId)
  return { count: facts?.listedCount ?? 0, costs_minor: facts?.costs_minor ?? {} }
}

function totalsUntil(
  db: Db,
  actor: Actor,
  given: { readonly vehicleId: string; readonly until: string },
): Pick<JournalList, 'count' | 'costs_minor'> {
  const sql = `SELECT substr(e.effective_on, 1, 4) AS year, count(*) AS count, sum(CASE WHEN ${withdrawn} THEN NULL ELSE e.cost_minor END) AS cost
    FROM entries e WHERE e.vehicle_id = ? AND e.household_id = ? AND e.effective_on <= ? AND ${listed} GROUP BY 1`
  const rows = db.$client.prepare(sql).all(given.vehicleId, actor.householdId, given.until) as {
    year: string
    count: number
    cost: number | null
  }[]
  return {
    count: rows.reduce((sum, row) => sum + row.count, 0),
    costs_minor: Object.fromEntries(rows.flatMap((row) => (row.cost === null ? [] : [[row.year, row.cost]]))),
  }
}

type Row = Omit<ListedEntry, 'withdrawn' | 'corrected'> & { readonly withdrawn: number; readonly corrected: number }

const withdrawn = `EXISTS (SELECT 1 FROM entries c WHERE c.corrects_id = e.id AND c.correction = 'withdrawn'
  AND NOT EXISTS (SELECT 1 FROM entries cc WHERE cc.corrects_id = c.id AND cc.correction = 'withdrawn'))`
const listed = `e.correction IS NOT 'withdrawn' AND NOT EXISTS (SELECT 1 FROM entries c WHERE c.corrects_id = e.id AND c.correction = 'replaced')`
const columns = `e.id, e.effective_on AS effectiveOn, e.title, e.odometer_km, e.cost_minor, ${withdrawn} AS withdrawn,
  e.correction IS 'replaced' AS corrected, coalesce(json_array_length(e.shown, '$.appeared'), 0) AS appeared`

function saying(
  db: Db,
  actor: Actor,
  given: { readonly vehicleId: string; readonly wanted: string; readonly until: string; readonly range: Range },
): JournalList {
  const sql = `SELECT e.id, e.effective_on AS effectiveOn, e.cost_minor, ${withdrawn} AS withdrawn, r.title, r.body FROM search_rows r
    JOIN entries e ON e.id = r.ref_id WHERE r.vehicle_id = ? AND r.household_id = ? AND r.kind = 'entry' AND e.effective_on <= ?
    ORDER BY e.effective_on DESC, e.place_id DESC`
  const all = db.$client.prepare(sql).all(given.vehicleId, actor.householdId, given.until) as (Row & { readonly body: string })[]
  const found = all.filter((row) => `${row.title}\n${row.body}`.toLowerCase().includes(given.wanted))
  const { from, most } = given.range(found.length)
  const costs_minor: Record<string, number> = {}
  for (const { effectiveOn, cost_minor, withdrawn: gone } of found) {
    const year = effectiveOn.slice(0, 4)
    if (cost_minor !== null && gone === 0) costs_minor[year] = (costs_minor[year] ?? 0) + cost_minor
  }
  const ids = JSON.stringify(found.slice(from, from + most).map((row) => row.id))
  const rows = db.$client
    .prepare(
      `SELECT ${columns} FROM entries e WHERE e.id IN (SELECT value FROM json_each(?)) AND +e.household_id = ?
       ORDER BY e.effective_on DESC, e.place_id DESC`,
    )
    .all(ids, actor.householdId) as Row[]
  return { count: found.length, entries: rows.map(entryOf), costs_minor }
}

function entryOf(row: Row): ListedEntry {
  return { ...row, withdrawn: row.withdrawn === 1, corrected: row.corrected === 1 }
}
