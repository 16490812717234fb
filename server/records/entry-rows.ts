/** Past 200 lines: what is read of a journal, and how it is kept. Reads the journal's rows in its order, which is said here and nowhere else: (effective_on, place_id). */
import { and, eq } from 'drizzle-orm'
import { wordKinds } from './changes/index.ts'
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

type Marks = Pick<EntryRow, 'withdrawnBy' | 'replacedBy'>
/** An entry as it was recorded; what became of it since is told by the rows after it. */
type Recorded = Omit<EntryRow, keyof Marks>
/** What of an entry matters to those after it. Its changes are those that alter a state: no `wordKinds`. */
type Outlined = Pick<
  Recorded,
  'id' | 'effectiveOn' | 'placeId' | 'title' | 'odometer_km' | 'cost_minor' | 'correctsId' | 'correction' | 'changes'
>
type Placed = Pick<Recorded, 'effectiveOn' | 'placeId'>
type Least = Placed & Pick<Recorded, 'id' | 'correctsId' | 'correction' | 'changes'>

export type OutlineRow = Outlined & Marks
export type JournalOf<Kept> = {
  readonly rows: readonly (Kept & Marks)[]
  readonly byId: ReadonlyMap<string, Kept & Marks>
  readonly live: readonly (Kept & Marks)[]
  /** the same rows in the order recorded */
  readonly recorded: readonly (Kept & Marks)[]
  /** the row recorded last, of whatever sort */
  readonly lastId: string
}
/** Whole rows, for who tells all of it. */
export type Journal = JournalOf<Recorded>
/** The same rows in the same order, a tenth of the size: for who folds, counts, or looks for what to read. */
export type Outline = JournalOf<Outlined>

const journals = new WeakMap<Db, Lately<Journal>>()
const outlines = new WeakMap<Db, Lately<Outline>>()
/** Rows and changes held in memory, of all journals together: a megabyte, and the one read last, however long it is. */
export const mostJournalRows = 2_000
/** The same of outlines: some ten megabytes. */
export const mostOutlineRows = 30_000

export function keptJournals(db: Db): Lately<Journal> {
  return lately(journals, db, mostJournalRows)
}

export function keptOutlines(db: Db): Lately<Outline> {
  return lately(outlines, db, mostOutlineRows)
}

/** After a transaction that came to nothing. */
export function forgetJournals(db: Db): void {
  journals.delete(db)
  outlines.delete(db)
  turnings.delete(db)
}

function lately<Value>(kept: WeakMap<Db, Lately<Value>>, db: Db, most: number): Lately<Value> {
  const mine = kept.get(db) ?? new Lately<Value>(most)
  kept.set(db, mine)
  return mine
}

export function vehicleRow(db: Db, actor: Actor, id: string): typeof vehicles.$inferSelect | undefined {
  return db
    .select()
    .from(vehicles)
    .where(and(eq(vehicles.id, id), eq(vehicles.householdId, actor.householdId)))
    .get()
}

export function outlineOf(db: Db, actor: Actor, vehicleId: string): Outline {
  const read = (after: string) => readOutlined(db, actor, { vehicleId, after })
  return keptRows(db, actor, { vehicleId, kept: keptOutlines(db), read })
}

/** The entries that stand, in the journal's order. */
export function liveEntries(db: Db, actor: Actor, vehicleId: string): readonly OutlineRow[] {
  return outlineOf(db, actor, vehicleId).live
}

/** Everything in the journal. What each entry showed is left where it is: it is long. */
export function journalOf(db: Db, actor: Actor, vehicleId: string): Journal {
  const read = (after: string) => readRecorded(db, actor, { vehicleId, after })
  return keptRows(db, actor, { vehicleId, kept: keptJournals(db), read })
}

/** Some entries of a vehicle, as they stood by an outline, or stand now. */
export type Some = { readonly vehicleId: string; readonly ids: readonly string[]; readonly outline?: Outline }

/** A few entries of a journal, whole, in the order of the ids. */
export function wholeRows(db: Db, actor: Actor, given: Some): readonly EntryRow[] {
  const { byId } = given.outline ?? outlineOf(db, actor, given.vehicleId)
  const found = new Map(readRecorded(db, actor, given).map((row) => [row.id, row]))
  return given.ids.flatMap((id) => {
    const [row, marks] = [found.get(id), byId.get(id)]
    return row && marks ? [{ ...row, withdrawnBy: marks.withdrawnBy, replacedBy: marks.replacedBy }] : []
  })
}

/** Ids of the entries with a change whose payload holds a component's key, or begins with it: more than touch it, never fewer. In no order. */
export function entriesThatName(db: Db, actor: Actor, vehicleId: string, componentKey: string): ReadonlySet<string> {
  const sql = `SELECT DISTINCT entry_id FROM changes INDEXED BY changes_by_vehicle
    WHERE vehicle_id = ? AND household_id = ? AND instr(payload, ?) > 0`
  const begun = JSON.stringify(componentKey).slice(0, -1)
  return new Set(db.$client.prepare(sql).pluck().all(vehicleId, actor.householdId, begun) as string[])
}

function keptRows<Kept extends Least>(
  db: Db,
  actor: Actor,
  given: { readonly vehicleId: string; readonly kept: Lately<JournalOf<Kept>>; readonly read: (after: string) => readonly Kept[] },
): JournalOf<Kept> {
  const { read } = given
  return keptSince(db, actor, {
    ...given,
    weigh: ({ rows }) => weightOfRows(rows),
    make: (before, lastId) => (before ? journalWith(before, { added: read(before.lastId), lastId }) : journalFrom(read(''), { lastId })),
  })
}

/** Kept in memory: rows never change, so only what was recorded since is read, where something is kept to add it to. */
function keptSince<Value extends { readonly lastId: string }>(
  db: Db,
  actor: Actor,
  given: {
    readonly vehicleId: string
    readonly kept: Lately<Value>
    readonly weigh: (value: Value) => number
    readonly make: (before: Value | undefined, lastId: string) => Value
  },
): Value {
  const { vehicleId, kept, weigh, make } = given
  const key = `${actor.householdId} ${vehicleId}`
  const lastId = lastRowId(db, actor, vehicleId)
  const before = kept.get(key)
  if (before && before.lastId === lastId) return before
  // What was read in a transaction that came to nothing holds rows that are not there.
  const made = make(before && isThere(db, actor, before.lastId) ? before : undefined, lastId)
  kept.set(key, made, weigh(made))
  return made
}

/** As `mostJournalRows` counts. */
export function weightOfRows(rows: readonly Pick<EntryRow, 'changes'>[]): number {
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
 * What the entries of a vehicle showed of one component, by entry. All that was found is long and is read of the `whole` ones alone; of
 * the others, what the entry made appear or cleared. Entries that showed nothing of it are left out.
 */
export function turnedBy(
  db: Db,
  actor: Actor,
  given: { readonly vehicleId: string; readonly component: string; readonly whole: readonly string[] },
): ReadonlyMap<string, Turned> {
  const { vehicleId, component, whole } = given
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
  const turned: [string, Turned][] = ask("json_extract(shown, '$.appeared'), json_extract(shown, '$.cleared')", [
    ...(turningsOf(db, actor, vehicleId).get(component) ?? []),
  ]).map(([id, appeared, cleared]) => [id, { findings: [], appeared: mine(appeared), cleared: mine(cleared) }])
  const all = new Map(turned)
  for (const [id, findings] of ask("json_extract(shown, '$.findings')", whole)) {
    const { appeared, cleared } = all.get(id) ?? { appeared: [], cleared: [] }
    all.set(id, { findings: mine(findings), appeared, cleared })
  }
  return all
}

type Turnings = { readonly lastId: string; readonly byComponent: ReadonlyMap<string, readonly string[]>; readonly count: number }
const turnings = new WeakMap<Db, Lately<Turnings>>()
/** Entries that turned a finding, once for each component, of all vehicles together: some two megabytes. */
const mostTurnings = 20_000

/** Component → the entries that made a finding of it appear or cleared one. Kept in memory: what an entry showed never changes. */
export function turningsOf(db: Db, actor: Actor, vehicleId: string): Turnings['byComponent'] {
  const kept = lately(turnings, db, mostTurnings)
  const make = (before: Turnings | undefined, lastId: string) => turningsWith(db, actor, { vehicleId, before, lastId })
  return keptSince(db, actor, { vehicleId, kept, weigh: ({ count }) => 1 + count, make }).byComponent
}

function turningsWith(
  db: Db,
  actor: Actor,
  given: { readonly vehicleId: string; readonly before: Turnings | undefined; readonly lastId: string },
): Turnings {
  const { vehicleId, before, lastId } = given
  const columns = "e.id, json_extract(e.shown, '$.appeared') AS appeared, json_extract(e.shown, '$.cleared') AS cleared"
  type Turning = { readonly id: string; readonly appeared: string | null; readonly cleared: string | null }
  const added = readEntries<Turning>(db, actor, { columns, which: { vehicleId, after: before?.lastId ?? '' } })
  const byComponent = new Map(before?.byComponent)
  let count = before?.count ?? 0
  for (const { id, appeared, cleared } of added) {
    const findings = [appeared, cleared].flatMap((text) => JSON.parse(text ?? '[]') as Finding[])
    for (const component of new Set(findings.map((finding) => finding.component))) {
      byComponent.set(component, [...(byComponent.get(component) ?? []), id])
      count += 1
    }
  }
  return { lastId, byComponent, count }
}

export function kindsOfParts(db: Db, actor: Actor): (part: string) => string | undefined {
  const read = db.$client.prepare('SELECT kind FROM parts WHERE id = ? AND household_id = ?').pluck()
  const kinds = new Map<string, string | undefined>()
  return (part) => {
    if (!kinds.has(part)) kinds.set(part, read.get(part, actor.householdId) as string | undefined)
    return kinds.get(part)
  }
}

export function inOrder<Row extends Placed>(rows: readonly Row[]): Row[] {
  return [...rows].sort(order)
}

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
function journalWith<Kept extends Least>(
  before: JournalOf<Kept>,
  given: { readonly added: readonly Kept[]; readonly lastId: string },
): JournalOf<Kept> {
  const { added, lastId } = given
  if (added.some((entry) => entry.correctsId !== null)) return journalFrom([...before.recorded, ...added], { lastId, before })
  const recorded = [...before.recorded]
  const rows = [...before.rows]
  const live = [...before.live]
  const byId = new Map(before.byId)
  for (const entry of added) {
    const row = { ...entry, withdrawnBy: null, replacedBy: null }
    recorded.push(row)
    rows.splice(placeOf(rows, row), 0, row)
    live.splice(placeOf(live, row), 0, row)
    byId.set(row.id, row)
  }
  return { rows, byId, live, recorded, lastId }
}

/** Where it belongs in the journal's order; most entries come last. */
function placeOf(rows: readonly Placed[], row: Placed): number {
  let at = rows.length
  while (at > 0 && comesBefore(row, rows[at - 1] as Placed)) at -= 1
  return at
}

function journalFrom<Kept extends Least>(
  recorded: readonly Kept[],
  given: { readonly lastId: string; readonly before?: JournalOf<Kept> },
): JournalOf<Kept> {
  const correctors = new Map<string, Kept[]>()
  for (const entry of recorded) {
    if (entry.correctsId !== null) correctors.set(entry.correctsId, [...(correctors.get(entry.correctsId) ?? []), entry])
  }
  const replacementOf = (id: string): string | null => correctors.get(id)?.find((entry) => entry.correction === 'replaced')?.id ?? null
  const withdrawalOf = (id: string): string | null =>
    correctors.get(id)?.find((entry) => entry.correction === 'withdrawn' && withdrawalOf(entry.id) === null)?.id ?? null
  const rowOf = (entry: Kept): Kept & Marks => {
    const [withdrawnBy, replacedBy] = [withdrawalOf(entry.id), replacementOf(entry.id)]
    const stood = given.before?.byId.get(entry.id)
    return stood?.withdrawnBy === withdrawnBy && stood.replacedBy === replacedBy ? stood : { ...entry, withdrawnBy, replacedBy }
  }
  const marked = recorded.map(rowOf)
  const rows = inOrder(marked)
  const live = rows.filter((row) => row.correction !== 'withdrawn' && row.withdrawnBy === null && row.replacedBy === null)
  return { rows, byId: new Map(rows.map((row) => [row.id, row])), live, recorded: marked, lastId: given.lastId }
}

function isThere(db: Db, actor: Actor, id: string): boolean {
  return db.$client.prepare('SELECT 1 FROM entries WHERE id = ? AND household_id = ?').get(id, actor.householdId) !== undefined
}

type Which = { readonly vehicleId: string } & ({ readonly after: string } | { readonly ids: readonly string[] })

/** Rows recorded after the one named, or all of them, in the order recorded; or those of these ids. */
function readRecorded(db: Db, actor: Actor, which: Which): readonly Recorded[] {
  const columns = `e.id, e.household_id AS householdId, e.vehicle_id AS vehicleId, e.effective_on AS effectiveOn, e.place_id AS placeId,
    e.recorded_at AS recordedAt, e.recorded_by AS recordedBy, e.title, e.text, e.odometer_km, e.cost_minor, e.corrects_id AS correctsId,
    e.correction, e.once_key AS onceKey, (SELECT p.name FROM people p WHERE p.id = e.recorded_by) AS author`
  return withChanges(db, actor, { which, found: readEntries(db, actor, { columns, which }), without: [] })
}

function readOutlined(db: Db, actor: Actor, which: Which): readonly Outlined[] {
  const columns = `e.id, e.effective_on AS effectiveOn, e.place_id AS placeId, e.title, e.odometer_km, e.cost_minor,
    e.corrects_id AS correctsId, e.correction`
  const found = readEntries<Omit<Outlined, 'changes'>>(db, actor, { columns, which })
  // Most entries have their own place: one text for both.
  const lean = found.map((entry) => (entry.placeId === entry.id ? { ...entry, placeId: entry.id } : entry))
  return withChanges(db, actor, { which, found: lean, without: wordKinds })
}

function readEntries<Entry = Omit<Recorded, 'changes'>>(
  db: Db,
  actor: Actor,
  given: { readonly columns: string; readonly which: Which },
): readonly Entry[] {
  const { columns, which } = given
  const [sql, asked] =
    'ids' in which
      ? ['FROM entries e WHERE +e.vehicle_id = ? AND +e.household_id = ? AND e.id IN (SELECT value FROM json_each(?))', which.ids]
      : [
          `FROM entries e INDEXED BY entries_by_recording WHERE e.vehicle_id = ? AND e.household_id = ?
           AND e.rowid > coalesce((SELECT l.rowid FROM entries l WHERE l.id = ?), 0) ORDER BY e.rowid`,
          which.after,
        ]
  return db.$client
    .prepare(`SELECT ${columns} ${sql}`)
    .all(which.vehicleId, actor.householdId, typeof asked === 'string' ? asked : JSON.stringify(asked)) as Entry[]
}

function withChanges<Entry extends { readonly id: string }>(
  db: Db,
  actor: Actor,
  given: { readonly which: Which; readonly found: readonly Entry[]; readonly without: readonly string[] },
): readonly (Entry & { readonly changes: readonly Change[] })[] {
  const { which, found, without } = given
  const isWhole = 'after' in which && which.after === ''
  const ids = isWhole ? null : found.map((entry) => entry.id)
  const changesOf = readChanges(db, actor, { vehicleId: which.vehicleId, entries: ids, without })
  return found.map((entry) => ({ ...entry, changes: changesOf.get(entry.id) ?? none }))
}

const none: readonly Change[] = []

/** Of a few entries, or of the whole journal. */
function readChanges(
  db: Db,
  actor: Actor,
  given: { readonly vehicleId: string; readonly entries: readonly string[] | null; readonly without: readonly string[] },
): ReadonlyMap<string, Change[]> {
  const { vehicleId, entries, without } = given
  const own = 'vehicle_id = ? AND household_id = ? AND kind NOT IN (SELECT value FROM json_each(?))'
  const sql =
    entries === null
      ? `SELECT entry_id AS entry, position, kind, payload FROM changes INDEXED BY changes_by_vehicle WHERE ${own}`
      : `SELECT entry_id AS entry, position, kind, payload FROM changes INDEXED BY changes_by_entry
         WHERE ${own} AND entry_id IN (SELECT value FROM json_each(?))`
  const rows = db.$client
    .prepare(sql)
    .all(vehicleId, actor.householdId, JSON.stringify(without), ...(entries === null ? [] : [JSON.stringify(entries)])) as {
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
