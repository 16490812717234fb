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
  given: { readonly contains?: string | undefined; readonly range: Range },
): JournalList {
  const wanted = given.contains?.trim().toLowerCase() ?? ''
  if (wanted !== '') return saying(db, actor, { vehicleId, wanted, range: given.range })
  const facts = factsOf(db, actor, [vehicleId]).get(vehicleId)
  const count = facts?.listedCount ?? 0
  const { from, most } = given.range(count)
  const sql = `SELECT ${columns} FROM entries e WHERE e.vehicle_id = ? AND e.household_id = ? AND ${listed}
    ORDER BY e.effective_on DESC, e.place_id DESC LIMIT ? OFFSET ?`
  const rows = db.$client.prepare(sql).all(vehicleId, actor.householdId, most, from) as Row[]
  return { count, entries: rows.map(entryOf), costs_minor: facts?.costs_minor ?? {} }
}

type Row = Omit<ListedEntry, 'withdrawn'> & { readonly withdrawn: number }

const withdrawn = `EXISTS (SELECT 1 FROM entries c WHERE c.corrects_id = e.id AND c.correction = 'withdrawn'
  AND NOT EXISTS (SELECT 1 FROM entries cc WHERE cc.corrects_id = c.id AND cc.correction = 'withdrawn'))`
const listed = `e.correction IS NOT 'withdrawn' AND NOT EXISTS (SELECT 1 FROM entries c WHERE c.corrects_id = e.id AND c.correction = 'replaced')`
const columns = `e.id, e.effective_on AS effectiveOn, e.title, e.odometer_km, e.cost_minor, ${withdrawn} AS withdrawn,
  coalesce(json_array_length(e.shown, '$.appeared'), 0) AS appeared`

function saying(db: Db, actor: Actor, given: { readonly vehicleId: string; readonly wanted: string; readonly range: Range }): JournalList {
  const sql = `SELECT e.id, e.effective_on AS effectiveOn, e.cost_minor, ${withdrawn} AS withdrawn, r.title, r.body FROM search_rows r
    JOIN entries e ON e.id = r.ref_id WHERE r.vehicle_id = ? AND r.household_id = ? AND r.kind = 'entry'
    ORDER BY e.effective_on DESC, e.place_id DESC`
  const all = db.$client.prepare(sql).all(given.vehicleId, actor.householdId) as (Row & { readonly body: string })[]
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
  return { ...row, withdrawn: row.withdrawn === 1 }
}
