/** Reads the journal's rows in its order, which is said here and nowhere else: (effective_on, place_id). */
import { and, eq } from 'drizzle-orm'
import type { Actor, Change, Shown } from './contract.ts'
import type { Db } from './database.ts'
import type { Finding } from './engine-types.ts'
import { Lately } from './lately.ts'
import { type entries, vehicles } from './schema.ts'

export type EntryRow = Omit<typeof entries.$inferSelect, 'shown'> & {
  readonly changes: readonly Change[]
  readonly author: string
  /** the withdrawal that undid it, or the version that took its place */
  readonly withdrawnBy: string | null
  readonly replacedBy: string | null
}

/** An entry as it was recorded; what became of it since is told by the rows after it. */
type Recorded = Omit<EntryRow, 'withdrawnBy' | 'replacedBy'>

export type Journal = {
  readonly rows: readonly EntryRow[]
  readonly byId: ReadonlyMap<string, EntryRow>
  readonly live: readonly EntryRow[]
  /** the rows in the order recorded */
  readonly recorded: readonly Recorded[]
  /** the row recorded last, of whatever sort */
  readonly lastId: string
}

const kept = new WeakMap<Db, Lately<Journal>>()
/** Rows and changes held in memory, of all journals together: some ten megabytes. */
export const mostJournalRows = 20_000

export function keptJournals(db: Db): Lately<Journal> {
  const mine = kept.get(db) ?? new Lately<Journal>(mostJournalRows)
  kept.set(db, mine)
  return mine
}

/** After a transaction that came to nothing. */
export function forgetJournals(db: Db): void {
  kept.delete(db)
}

export function vehicleRow(db: Db, actor: Actor, id: string): typeof vehicles.$inferSelect | undefined {
  return db
    .select()
    .from(vehicles)
    .where(and(eq(vehicles.id, id), eq(vehicles.householdId, actor.householdId)))
    .get()
}

export function liveEntries(db: Db, actor: Actor, vehicleId: string): readonly EntryRow[] {
  return journalOf(db, actor, vehicleId).live
}

/** Kept in memory: rows never change, so only what was recorded since is read. What each entry showed is left where it is: it is long. */
export function journalOf(db: Db, actor: Actor, vehicleId: string): Journal {
  const key = `${actor.householdId} ${vehicleId}`
  const mine = keptJournals(db)
  const lastId = lastRowId(db, actor, vehicleId)
  const before = mine.get(key)
  if (before && before.lastId === lastId) return before
  // A journal that was read in a transaction that came to nothing holds rows that are not there.
  const holds = before !== undefined && isThere(db, actor, before.lastId)
  const added = readRecorded(db, actor, { vehicleId, after: holds ? before.lastId : '' })
  const journal = holds ? journalWith(before, { added, lastId }) : journalFrom(added, { lastId })
  mine.set(key, journal, weightOfRows(journal.rows))
  return journal
}

/** As `mostJournalRows` counts. */
export function weightOfRows(rows: readonly EntryRow[]): number {
  return rows.reduce((sum, row) => sum + 1 + row.changes.length, 0)
}

export function lastRowId(db: Db, actor: Actor, vehicleId: string): string {
  const sql = 'SELECT id FROM entries INDEXED BY entries_by_recording WHERE vehicle_id = ? AND household_id = ? ORDER BY rowid DESC LIMIT 1'
  return String(db.$client.prepare(sql).pluck().get(vehicleId, actor.householdId) ?? '')
}

/** What these entries showed when they were saved. */
export function shownOf(db: Db, actor: Actor, ids: readonly string[]): ReadonlyMap<string, Shown> {
  const rows = db.$client
    .prepare('SELECT id, shown FROM entries WHERE id IN (SELECT value FROM json_each(?)) AND +household_id = ? AND shown IS NOT NULL')
    .all(JSON.stringify(ids), actor.householdId) as { id: string; shown: string }[]
  return new Map(rows.map((row) => [row.id, JSON.parse(row.shown) as Shown]))
}

export type Turned = { readonly findings: readonly Finding[]; readonly appeared: readonly Finding[]; readonly cleared: readonly Finding[] }

/**
 * What these entries showed of one component, by entry. All that was found is long and is read of the `whole` ones alone; of the others,
 * what the entry made appear or cleared.
 */
export function turnedBy(
  db: Db,
  actor: Actor,
  given: { readonly component: string; readonly ids: readonly string[]; readonly whole: readonly string[] },
): ReadonlyMap<string, Turned> {
  const { component, ids, whole } = given
  const names = `"component":${JSON.stringify(component)}`
  const ask = (columns: string, of: readonly string[]) =>
    db.$client
      .prepare(
        `SELECT id, ${columns} FROM entries WHERE id IN (SELECT value FROM json_each(?)) AND +household_id = ? AND instr(shown, ?) > 0`,
      )
      .raw()
      .all(JSON.stringify(of), actor.householdId, names) as [string, ...(string | null)[]][]
  const mine = (text: string | null | undefined): readonly Finding[] =>
    text?.includes(names) ? (JSON.parse(text) as Finding[]).filter((finding) => finding.component === component) : []
  const found = new Map(ask("json_extract(shown, '$.findings')", whole).map(([id, findings]) => [id, mine(findings)]))
  return new Map(
    ask("json_extract(shown, '$.appeared'), json_extract(shown, '$.cleared')", ids).map(([id, appeared, cleared]) => [
      id,
      { findings: found.get(id) ?? [], appeared: mine(appeared), cleared: mine(cleared) },
    ]),
  )
}

export function kindsOfParts(db: Db, actor: Actor): (part: string) => string | undefined {
  const read = db.$client.prepare('SELECT kind FROM parts WHERE id = ? AND household_id = ?').pluck()
  const kinds = new Map<string, string | undefined>()
  return (part) => {
    if (!kinds.has(part)) kinds.set(part, read.get(part, actor.householdId) as string | undefined)
    return kinds.get(part)
  }
}

export function inOrder(rows: readonly EntryRow[]): EntryRow[] {
  return [...rows].sort(order)
}

type Placed = Pick<EntryRow, 'effectiveOn' | 'placeId'>

function comesBefore(a: Placed, b: Placed): boolean {
  return order(a, b) < 0
}

function order(a: Placed, b: Placed): number {
  return compare(a.effectiveOn, b.effectiveOn) || compare(a.placeId, b.placeId)
}

function compare(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0
}

/** `before` with what was recorded since. Rows that stand as they stood are the very same ones. */
function journalWith(before: Journal, given: { readonly added: readonly Recorded[]; readonly lastId: string }): Journal {
  const { added, lastId } = given
  const recorded = [...before.recorded, ...added]
  if (added.some((entry) => entry.correctsId !== null)) return journalFrom(recorded, { lastId, before })
  const rows = [...before.rows]
  const live = [...before.live]
  const byId = new Map(before.byId)
  for (const entry of added) {
    const row = { ...entry, withdrawnBy: null, replacedBy: null }
    rows.splice(placeOf(rows, row), 0, row)
    live.splice(placeOf(live, row), 0, row)
    byId.set(row.id, row)
  }
  return { rows, byId, live, recorded, lastId }
}

/** Where it belongs in the journal's order; most entries come last. */
function placeOf(rows: readonly EntryRow[], row: EntryRow): number {
  let at = rows.length
  while (at > 0 && comesBefore(row, rows[at - 1] as EntryRow)) at -= 1
  return at
}

function journalFrom(recorded: readonly Recorded[], given: { readonly lastId: string; readonly before?: Journal }): Journal {
  const correctors = new Map<string, Recorded[]>()
  for (const entry of recorded) {
    if (entry.correctsId !== null) correctors.set(entry.correctsId, [...(correctors.get(entry.correctsId) ?? []), entry])
  }
  const replacementOf = (id: string): string | null => correctors.get(id)?.find((entry) => entry.correction === 'replaced')?.id ?? null
  const withdrawalOf = (id: string): string | null =>
    correctors.get(id)?.find((entry) => entry.correction === 'withdrawn' && withdrawalOf(entry.id) === null)?.id ?? null
  const rowOf = (entry: Recorded): EntryRow => {
    const [withdrawnBy, replacedBy] = [withdrawalOf(entry.id), replacementOf(entry.id)]
    const stood = given.before?.byId.get(entry.id)
    return stood?.withdrawnBy === withdrawnBy && stood.replacedBy === replacedBy ? stood : { ...entry, withdrawnBy, replacedBy }
  }
  const rows = inOrder(recorded.map(rowOf))
  const live = rows.filter((row) => row.correction !== 'withdrawn' && row.withdrawnBy === null && row.replacedBy === null)
  return { rows, byId: new Map(rows.map((row) => [row.id, row])), live, recorded, lastId: given.lastId }
}

function isThere(db: Db, actor: Actor, id: string): boolean {
  return db.$client.prepare('SELECT 1 FROM entries WHERE id = ? AND household_id = ?').get(id, actor.householdId) !== undefined
}

/** Rows recorded after the one named, or all of them; in the order recorded. */
function readRecorded(db: Db, actor: Actor, given: { readonly vehicleId: string; readonly after: string }): readonly Recorded[] {
  const { vehicleId, after } = given
  const found = db.$client
    .prepare(
      `SELECT e.id, e.household_id AS householdId, e.vehicle_id AS vehicleId, e.effective_on AS effectiveOn, e.place_id AS placeId,
         e.recorded_at AS recordedAt, e.recorded_by AS recordedBy, e.title, e.text, e.odometer_km, e.cost_minor, e.corrects_id AS correctsId,
         e.correction, e.once_key AS onceKey, p.name AS author
       FROM entries e INDEXED BY entries_by_recording CROSS JOIN people p ON p.id = e.recorded_by
       WHERE e.vehicle_id = ? AND e.household_id = ? AND e.rowid > coalesce((SELECT l.rowid FROM entries l WHERE l.id = ?), 0) ORDER BY e.rowid`,
    )
    .all(vehicleId, actor.householdId, after) as Omit<Recorded, 'changes'>[]
  const changesOf = readChanges(db, actor, { vehicleId, entries: after === '' ? null : found.map((entry) => entry.id) })
  return found.map((entry) => ({ ...entry, changes: changesOf.get(entry.id) ?? [] }))
}

/** Of a few entries, or of the whole journal. */
function readChanges(
  db: Db,
  actor: Actor,
  given: { readonly vehicleId: string; readonly entries: readonly string[] | null },
): ReadonlyMap<string, Change[]> {
  const own = 'vehicle_id = ? AND household_id = ?'
  const sql =
    given.entries === null
      ? `SELECT entry_id AS entry, position, kind, payload FROM changes INDEXED BY changes_by_vehicle WHERE ${own}`
      : `SELECT entry_id AS entry, position, kind, payload FROM changes INDEXED BY changes_by_entry
         WHERE ${own} AND entry_id IN (SELECT value FROM json_each(?))`
  const rows = db.$client
    .prepare(sql)
    .all(given.vehicleId, actor.householdId, ...(given.entries === null ? [] : [JSON.stringify(given.entries)])) as {
    readonly entry: string
    readonly position: number
    readonly kind: string
    readonly payload: string
  }[]
  const found = new Map<string, Change[]>()
  for (const row of rows.sort((a, b) => a.position - b.position)) {
    const change = { kind: row.kind, ...(JSON.parse(row.payload) as object) } as Change
    const already = found.get(row.entry)
    if (already) already.push(change)
    else found.set(row.entry, [change])
  }
  return found
}
